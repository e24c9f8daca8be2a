"""The cautions that stand beside work and verdicts, in this register's own words."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution: what it is about, what it says and what it rests on."""

    key: str
    title: str
    text: str
    basis: str


CAUTIONS = (
    Caution(
        "movement",
        "Before anyone goes on or under the vehicle",
        "See it protected against movement as the local rules lay down: the board in "
        "place, handbrake on, wheels scotched, neighbouring brakes held. Whoever put "
        "the board on takes it off, nobody else.",
        "Railway Safety (Miscellaneous Provisions) Regulations 1997; common practice",
    ),
    Caution(
        "drain_and_vent",
        "Before hands go near rigging or blocks",
        "Isolate this vehicle, and drain and vent its reservoirs and cylinders on both "
        "brake systems. A hose that bursts, or a cock someone opens further along, can "
        "apply the brake and crush a hand. The local instruction gives the order of "
        "work.",
        "US Army rail car inspection text, safety rules",
    ),
    Caution(
        "air_suspension",
        "Never let air hold a vehicle up",
        "Before work, exhaust the supply and part it physically. Pinching a hose is not "
        "an isolation. Support the vehicle as the competent person directs.",
        "HSE safety alert on air suspension, 2020",
    ),
    Caution(
        "pressure_joint",
        "Before a joint is broken or a hose uncoupled",
        "Close the cocks, let the hose vent, see the gauge at zero, and keep out of the "
        "line of the hose. A cock that does not vent leaves pressure behind it.",
        "EN 14601 (vented end cocks); HSE GS4 (hose whip)",
    ),
    Caution(
        "pressure_test",
        "A pressure test can kill",
        "It needs a written method of work, people kept clear and the right connections. "
        "Gas stores far more energy than water, yet a water test is not harmless, and "
        "testing over pressure again and again can weaken a vessel. The competent person "
        "decides the method.",
        "HSE GS4; SAFed PSG21",
    ),
    Caution(
        "vacuum_drop",
        "Vacuum gear can move by itself",
        "A cylinder may still hold vacuum, or lose it without warning, and rods and "
        "levers move with it. Destroy the vacuum on both sides of the piston first.",
        "Common practice",
    ),
    Caution(
        "stabling",
        "The automatic brake does not hold a standing vehicle",
        "Air and vacuum both leak away. Secure with handbrakes and scotches as the local "
        "rules say.",
        "Published accident reports; FRA advisory on brakes that released while standing",
    ),
    Caution(
        "handbrake_out",
        "A handbrake out of use holds nothing",
        "The vehicle is held by scotches, or by whatever else the operator's own rules "
        "lay down, from before the linkage is touched until the handbrake is proved "
        "again. Nobody counts it when a train is secured.",
        "Common practice",
    ),
    Caution(
        "asbestos",
        "Old blocks, packing, gaskets and lagging",
        "Take them to hold asbestos until it is shown that they do not. No filing, "
        "blowing or drilling: stop and tell the person responsible. Used parts that hold "
        "asbestos may not be passed on without an exemption.",
        "ORR guidance on asbestos; HSE exemptions under REACH",
    ),
    Caution(
        "stored_energy",
        "Springs, slack adjusters and hangers hold energy",
        "Support the load and relieve the spring before a pin comes out, as the "
        "maintenance instruction for the gear says.",
        "Common practice",
    ),
    Caution(
        "hot_brakes",
        "After a brake has dragged",
        "Wheels and blocks may be hot enough to burn or to start a fire. Let them cool, "
        "look for damage, and test the vehicle by itself before it is counted on again.",
        "Published accident reports",
    ),
    Caution(
        "cold_or_stored",
        "In frost, or after storage",
        "Seals shrink and take a set, so that a test may pass or fail falsely. Repeat it "
        "once the vehicle is warm and has been worked, as the local instruction says.",
        "Published accident reports",
    ),
    Caution(
        "after_work",
        "When the work is done",
        "Every cock back in its normal position? Every split pin and securing device in? "
        "Checked by someone else? Brake tested? Only then release the vehicle.",
        "Published accident reports",
    ),
    Caution(
        "dust_and_oil",
        "Dust, noise, and what runs out of drains",
        "Wear what the local assessment asks for, and deal with dust, oil and oily water "
        "as waste under the local rules.",
        "Common practice",
    ),
    Caution(
        "lineside",
        "Report from clear of the line",
        "Do not go on or near the line in order to look or to report.",
        "Common practice",
    ),
    Caution(
        "not_permission",
        "What the records show is not permission to move",
        "This shows what was recorded at the time stated. The rule book and the person "
        "in charge decide. Look at the vehicle: if it disagrees with what is written "
        "here, stop and report.",
        "Common practice",
    ),
    Caution(
        "local_instruction",
        "The local maintenance instruction governs",
        "Limits and intervals here are what this register was given. Where the operator's "
        "maintenance instruction in force says otherwise, it holds.",
        "Common practice",
    ),
    Caution(
        "statutory",
        "Examination that the law requires",
        "Where pressure equipment is under statutory examination, the appointed "
        "competent person carries it out; nothing recorded here stands in for that.",
        "Pressure Systems Safety Regulations 2000, regs 8 and 9",
    ),
)

_BY_KEY = {caution.key: caution for caution in CAUTIONS}


def caution(key: str) -> Caution:
    """Return the caution of a key; raises KeyError, naming it, where there is none."""
    try:
        return _BY_KEY[key]
    except KeyError:
        raise KeyError(f"no such caution: {key}") from None
