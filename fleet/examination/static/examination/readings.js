/* Judges readings as they are typed. The register judges again when they are sent. */
(() => {
  "use strict";

  const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)$/;
  const LEFT_OUT = new Set(["not_done", "not_applicable"]);
  const MARKS = ["verdict-met", "verdict-failed", "verdict-recorded", "verdict-open"];

  function show(output, mark, words) {
    output.classList.remove(...MARKS);
    if (mark) output.classList.add(mark);
    if (output.textContent !== words) output.textContent = words;
  }

  function withUnit(number, unit) {
    return unit === "count" ? number : `${number} ${unit}`;
  }

  /* Past the limit by less than a converted number can hold is on the limit. */
  function slack(limit, same) {
    return same ? 0 : Math.max(1, Math.abs(limit)) * 1e-9;
  }

  /* What wears has two limits: beyond the second it is condemned. */
  function worn(line, value, same) {
    const told = line.dataset.condemnedWords;
    if (!told) return "";
    const sign = told.startsWith("condemned below") ? 1 : -1;
    const limit = Number(line.dataset.condemned);
    if (sign * (value - limit) < -slack(limit, same)) return "; condemned";
    return `; not to be released, though not yet ${told}`;
  }

  function judged(line, typed, unit) {
    const [slope, offset] = JSON.parse(line.dataset.units)[unit];
    const same = unit === line.dataset.unit;
    const value = same ? Number(typed) : Number(typed) * slope + offset;
    const low = line.dataset.low;
    const high = line.dataset.high;
    const reading = withUnit(typed, unit);
    if (low === "" && high === "") {
      return ["verdict-recorded", `${reading}, no limit set: recorded, not judged`];
    }
    const above = low === "" || value >= Number(low) - slack(Number(low), same);
    const below = high === "" || value <= Number(high) + slack(Number(high), same);
    const met = above && below;
    const shown = same ? reading : `${reading} (${Number(value.toFixed(3))} ${line.dataset.unit})`;
    const wear = met ? "" : worn(line, value, same);
    const words = `${met ? "Met" : "Not met"}: ${shown}, limit ${line.dataset.limit}${wear}`;
    return [met ? "verdict-met" : "verdict-failed", words];
  }

  function field(line, part) {
    return line.querySelector(`[name$="_${part}"]`);
  }

  function stateOfReading(line) {
    const typed = field(line, "value").value.trim().replace("\u2212", "-");
    if (LEFT_OUT.has(field(line, "answer").value)) return ["", "", "left out"];
    if (!typed) return ["", "", "open"];
    if (!NUMBER.test(typed)) {
      return ["verdict-open", "Write a number with a point, such as 3.8.", "open"];
    }
    const [mark, words] = judged(line, typed, field(line, "unit").value);
    return [mark, words, mark === "verdict-failed" ? "failed" : "settled"];
  }

  function stateOfQuestion(line) {
    const chosen = line.querySelector("[name$='_answer']:checked");
    if (!chosen) return "open";
    if (LEFT_OUT.has(chosen.value)) return "left out";
    const notMet = JSON.parse(line.dataset.notMet || '["not_met"]');
    return notMet.includes(chosen.value) ? "failed" : "settled";
  }

  function judge(line) {
    const output = line.querySelector("[data-verdict]");
    let state;
    if (output) {
      const [mark, words, found] = stateOfReading(line);
      show(output, mark, words);
      state = found;
    } else {
      state = stateOfQuestion(line);
    }
    if (state === "left out") line.querySelector("[data-why]").open = true;
    line.dataset.state = state;
  }

  function count(lines, wanted) {
    return lines.filter(wanted).length;
  }

  function tally(form, lines) {
    const failed = count(lines, (l) => l.dataset.state === "failed");
    const open = count(
      lines,
      (l) => l.dataset.state === "open" && l.dataset.required === "yes",
    );
    const parts = [];
    if (failed) parts.push(`${failed} not met`);
    if (open) parts.push(`${open} still to answer`);
    form.querySelector("[data-tally]").textContent = parts.join(", ");
  }

  function two(number) {
    return String(number).padStart(2, "0");
  }

  function offerNow(form) {
    const button = form.querySelector("[data-now]");
    const day = form.querySelector("[name='on_day']");
    const time = form.querySelector("[name='on_time']");
    if (!button || !day || !time) return;
    button.hidden = false;
    button.addEventListener("click", () => {
      const now = new Date();
      day.value = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
      time.value = `${two(now.getHours())}:${two(now.getMinutes())}`;
    });
  }

  for (const form of document.querySelectorAll("[data-readings]")) {
    const lines = [...form.querySelectorAll("[data-line]")];
    const all = () => {
      lines.forEach(judge);
      tally(form, lines);
    };
    form.addEventListener("input", all);
    form.addEventListener("change", all);
    all();
    offerNow(form);
    form.querySelector("#mistakes")?.focus();
  }
})();
