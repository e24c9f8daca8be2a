"""The shape of the house: what stands where, and who may reach for what."""

import ast
import re
from fnmatch import fnmatch
from pathlib import Path

from django.apps import apps

HOME = Path(__file__).resolve().parent.parent
FLEET = HOME / "fleet"
TOP = {
    "DEVELOPERS.md",
    "README.md",
    "fixtures",
    "fleet",
    "manage.py",
    "pyproject.toml",
    "templates",
    "tests",
}
LONGEST_MODULE = 400
LONGEST_README = 100


def slices():
    """Names of the folders of fleet, in order."""
    return sorted(p.parent.name for p in FLEET.glob("*/__init__.py"))


def modules():
    """Every Python file of fleet but the migrations, which are generated."""
    return [p for p in sorted(FLEET.rglob("*.py")) if "migrations" not in p.parts]


def templates():
    """Every page and piece of a page."""
    return sorted((HOME / "templates").rglob("*.html"))


def named(path):
    """The path as a reader would write it."""
    return path.relative_to(HOME).as_posix()


def test_every_slice_is_on_the_map_of_the_developers_guide():
    guide = (HOME / "DEVELOPERS.md").read_text()

    unmapped = [s for s in slices() if not re.search(rf"^ +{s}/ ", guide, re.M)]

    assert len(slices()) > 1
    assert unmapped == []


def test_the_map_shows_no_slice_that_is_not_there():
    guide = (HOME / "DEVELOPERS.md").read_text()
    block = re.search(r"^fleet/\n((?: {2}.*\n)+)", guide, re.M).group(1)

    mapped = re.findall(r"^  (\w+)/ ", block, re.M)

    assert sorted(mapped) == slices()


def test_the_top_level_holds_only_what_it_is_meant_to():
    made_by_running = [
        line.strip("/")
        for line in (HOME / ".gitignore").read_text().splitlines()
        if line and not line.startswith("#")
    ]

    strangers = [
        path.name
        for path in HOME.iterdir()
        if path.name not in TOP
        and not path.name.startswith(".")
        and not any(fnmatch(path.name, pattern) for pattern in made_by_running)
    ]

    assert strangers == []
    assert [name for name in TOP if not (HOME / name).exists()] == []


def test_tests_and_templates_are_filed_under_the_slice_they_belong_to():
    filed = {
        folder.name
        for home in (HOME / "tests", HOME / "templates")
        for folder in home.iterdir()
        if folder.is_dir() and folder.name != "__pycache__"
    }

    # Templates outside the slices are those that Django or a tool looks for by name.
    assert filed - set(slices()) <= {"benchmarks", "registration", "admin"}


def test_no_slice_imports_a_private_name_of_another():
    taken = []
    for path in modules():
        own = path.relative_to(FLEET).parts[0]
        for node in ast.walk(ast.parse(path.read_text())):
            if not isinstance(node, ast.ImportFrom) or not node.module:
                continue
            parts = node.module.split(".")
            if parts[0] != "fleet" or own in parts[1:2]:
                continue
            names = parts[1:] + [alias.name for alias in node.names]
            taken += [f"{named(path)}: {n}" for n in names if re.match("_[^_]", n)]

    assert taken == []


def test_every_module_begins_by_saying_what_it_holds():
    silent = [
        named(path)
        for path in modules()
        if path.read_text().strip()
        and not ast.get_docstring(ast.parse(path.read_text()))
    ]

    assert silent == []


def test_no_module_is_longer_than_a_reader_can_hold():
    long = [
        named(path)
        for path in modules()
        if len(path.read_text().splitlines()) > LONGEST_MODULE
    ]

    assert long == []


def test_every_migration_says_what_it_does():
    unnamed = [
        named(path)
        for path in FLEET.glob("*/migrations/*.py")
        if path.name != "__init__.py"
        and (
            not re.fullmatch(r"\d{4}_[a-z][a-z0-9_]*\.py", path.name)
            or "_auto_" in path.name
        )
    ]

    assert unnamed == []


def test_every_slice_with_tables_has_migrations():
    # `makemigrations --check` passes over an app without the package.
    without = [
        config.label
        for config in apps.get_app_configs()
        if config.name.startswith("fleet.")
        and list(config.get_models())
        and not (Path(config.path) / "migrations" / "0001_initial.py").exists()
    ]

    assert without == []


def test_no_template_holds_a_script_a_style_or_a_handler():
    inline = re.compile(
        r"<style|\sstyle\s*=|\son[a-z]+\s*=\s*[\"']|javascript:|<script(?![^>]*\ssrc=)",
        re.I,
    )

    assert [named(p) for p in templates() if inline.search(p.read_text())] == []


def test_no_page_calls_anything_safe():
    # The register says what the records show; that is all it knows.
    words = {
        path: re.sub(r"{[{%].*?[%}]}", "", path.read_text()) for path in templates()
    }

    assert [named(p) for p, w in words.items() if re.search(r"\bsafe", w, re.I)] == []


def test_the_readme_gives_the_commands_that_are_run():
    readme = (HOME / "README.md").read_text()
    ci = (HOME / ".ci" / "run").read_text()
    start = "python3 -m venv .venv && .venv/bin/pip install -e"

    tests = re.search(r'^TEST_COMMAND="(.+)"$', ci, re.M).group(1)

    assert tests == f"{start} '.[dev]' && .venv/bin/python -m pytest"
    assert re.findall(r"^python3 .+$", readme, re.M) == [
        f"{start} . && .venv/bin/python manage.py demo",
        tests,
    ]


def test_the_readme_can_be_read_at_one_sitting():
    assert len((HOME / "README.md").read_text().splitlines()) < LONGEST_README
