"""The explicit list against everything else that names rules: modules, contract, tests and the page."""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path

import mediacheck.rules
from mediacheck.names import RULE_NAMES
from mediacheck.rules.catalogue import RULES
from mediacheck.rules.model import Rule
from mediacheck.rules.page import rules_page

ROOT = Path(__file__).parent.parent.parent
WARN = [
    "card-capacity", "card-cluster-size", "card-dirty", "card-full", "card-label", "file-unexpected",
    "file-junk", "play-order", "container-index", "container-fragmented", "readers-disagree",
    "video-extra-stream", "video-level-understated", "video-bit-rate-peak", "video-shape", "video-colour",
    "video-gop", "audio-unwanted", "audio-missing", "still-orientation", "still-resolution", "loop-length",
    "loop-audio-length", "audio-loudness", "audio-peak", "audio-silent", "picture-black", "picture-frozen",
    "picture-bars", "picture-leader", "picture-combed", "loop-seam", "loop-outdated",
]  # fmt: skip
NOTE = ["file-duplicate"]
FULL = [
    "audio-loudness", "audio-peak", "audio-silent", "picture-damaged", "picture-black", "picture-frozen",
    "picture-bars", "picture-leader", "picture-flash", "picture-combed", "loop-seam",
]  # fmt: skip
"""Default severities and depths as agreed with the programs that read reports; all others fail, quick."""


def made_rules() -> list[Rule]:  # type: ignore[type-arg]
    """Every rule that any module of the room makes."""
    names = [
        info.name for info in pkgutil.iter_modules(mediacheck.rules.__path__) if info.name != "catalogue"
    ]
    modules = [importlib.import_module(f"mediacheck.rules.{name}") for name in names]
    made = [value for module in modules for value in vars(module).values() if isinstance(value, Rule)]
    return [rule for rule in made if rule.judge.__module__.startswith("mediacheck.rules")]


def test_the_list_holds_each_rule_that_is_made_exactly_once() -> None:
    listed = [rule.name for rule in RULES]
    assert sorted(listed) == sorted({rule.name for rule in made_rules()})
    assert len(listed) == len(set(listed))


def test_the_list_is_the_agreed_names_in_their_order() -> None:
    assert tuple(rule.name for rule in RULES) == RULE_NAMES


def test_severities_and_depths_are_the_agreed_ones() -> None:
    for rule in RULES:
        expected = "warn" if rule.name in WARN else "note" if rule.name in NOTE else "fail"
        assert (rule.name, rule.severity) == (rule.name, expected)
        assert (rule.name, rule.depth) == (rule.name, "full" if rule.name in FULL else "quick")


def test_every_rule_says_what_it_means_and_where_that_comes_from() -> None:
    for rule in RULES:
        assert len(rule.meaning) > 40, rule.name
        assert rule.meaning.endswith("."), rule.name
        assert rule.source, rule.name


def test_every_rule_has_tests_of_its_own() -> None:
    text = "".join(path.read_text("utf-8") for path in Path(__file__).parent.glob("test_*_rules.py"))
    assert [rule.name for rule in RULES if f'"{rule.name}"' not in text] == []


def test_the_page_is_the_catalogue() -> None:
    assert (ROOT / "docs" / "rules.md").read_text("utf-8") == rules_page()
