"""YAML that people write: what it means here, and that every fault is one clear sentence with its line."""

from __future__ import annotations

import hashlib
import json
import os
import pickle
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mediacheck.errors import ProfileError
from mediacheck.strict_yaml import (
    DEPTH_MAX,
    SIZE_MAX_BYTES,
    VALUES_MAX,
    InvalidFile,
    Problem,
    dotted,
    parse_mapping,
    read_mapping,
)


def value_of(text: str) -> Any:
    """What stands after `a:` in a file."""
    return parse_mapping(f"a: {text}\n".encode(), "f.yaml").data["a"]


def problems_of(raw: bytes | str) -> tuple[Problem, ...]:
    """The problems of a file that is refused."""
    with pytest.raises(InvalidFile) as refused:
        parse_mapping(raw.encode() if isinstance(raw, str) else raw, "f.yaml")
    return refused.value.problems


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("off", "off"),
        ("no", "no"),
        ("yes", "yes"),
        ("on", "on"),
        ("true", True),
        ("False", False),
        ("16:9", "16:9"),
        ("1:30:00", "1:30:00"),
        ("4:2:0", "4:2:0"),
        ("2001-01-31", "2001-01-31"),
        ("010", "010"),
        ("0x1f", "0x1f"),
        ("25", 25),
        ("-3", -3),
        ("20_000_000", 20_000_000),
        ("29.97", 29.97),
        ("1e3", 1000.0),
        (".inf", ".inf"),
        ("~", None),
        ("", None),
        ('"25"', "25"),
        ("'off'", "off"),
        ("'it''s'", "it's"),
        ("[]", ()),
        ("[1, [x, 2.5]]", (1, ("x", 2.5))),
        ("{b: 1, 2: c}", {"b": 1, "2": "c"}),
        ("9" * 30, "9" * 30),
    ],
)
def test_only_true_and_false_are_yes_or_no_and_words_stay_words(written: str, meant: object) -> None:
    value = value_of(written)
    assert (value, type(value)) == (meant, type(meant))


def test_a_document_knows_lines_typed_texts_source_and_checksum() -> None:
    raw = b"# comment\nid: 7\nvideo:\n  rates: [24,\n    4.10]\n  other:\n    - x\n    - y: true\n"
    document = parse_mapping(raw, "my.yaml")
    assert document.source == "my.yaml"
    assert document.sha256 == hashlib.sha256(raw).hexdigest()
    assert document.data == {"id": 7, "video": {"rates": (24, 4.1), "other": ("x", {"y": True})}}
    assert dict(document.lines) == {
        (): 2,
        ("id",): 2,
        ("video",): 3,
        ("video", "rates"): 4,
        ("video", "rates", 0): 4,
        ("video", "rates", 1): 5,
        ("video", "other"): 6,
        ("video", "other", 0): 7,
        ("video", "other", 1): 8,
        ("video", "other", 1, "y"): 8,
    }
    assert dict(document.texts) == {
        ("id",): "7",
        ("video", "rates", 0): "24",
        ("video", "rates", 1): "4.10",
        ("video", "other", 1, "y"): "true",
    }


@pytest.mark.parametrize(
    ("raw", "line", "expected", "found"),
    [
        ("", 1, "keys with values, such as `id: my-player`", "nothing"),
        ("# only a comment\n", 1, "keys with values, such as `id: my-player`", "nothing"),
        ("\n\n- a\n", 3, "keys with values, such as `id: my-player`", "a list"),
        ("just words", 1, "keys with values, such as `id: my-player`", '"just words"'),
        (
            "a: 1\nb: &x 2",
            2,
            "a plain value",
            "a reference or anchor (a text that begins with * or & needs quotes)",
        ),
        ("a: *x", 1, "a plain value", "a reference or anchor (a text that begins with * or & needs quotes)"),
        ("a: [*.txt]", 1, "quotes around a text that begins with * or &", "none"),
        (
            "a: !!python/name:os.system x",
            1,
            "a plain value",
            "a tag (a text that begins with ! needs quotes)",
        ),
        ("a: !x", 1, "a plain value", "a tag (a text that begins with ! needs quotes)"),
        ("a: @x", 1, "quotes around a text that begins with %, @ or `", "none"),
        (
            "a: 1\nb: c: d",
            2,
            "quotes around a text with a colon, and all keys of a section in one column",
            "a colon too many",
        ),
        ("a:\n\tb: 1", 2, "spaces before a key", "a tab"),
        ("a: 1\n---\nb: 2", 2, "one document in the file", "a second one, after `---`"),
        ('b: 1\na: "x\nc: 2\n', 2, "a quote at the end of the text too", "none"),
        ("b: 1\na: 'it's'", 2, "a quote only at both ends of a text", "one inside"),
        ('a: "\\d+"', 1, "single quotes around a text with a backslash", "double quotes"),
        ("a: 1\nfoo\nb: 1", 2, "a colon and a space after the key", "none"),
        ("a:\n  b: 1\n c: 2", 3, "all keys of a section in one column", "one that stands further in or out"),
        ("a: [1,\nb: 2", 1, "a comma between entries and ] after the last", "something else"),
        ("a: {b: 1", 1, "a comma between entries and } after the last", "something else"),
        ("? [a]\n: 1", 1, "a word as a key", "a list"),
        ("a: 1\nb: \x1b[0m", 2, "text without control characters", "a control character (U+001B)"),
        ("a: 1\nb: caf\xe9".encode("latin-1"), 2, "text saved as UTF-8", "bytes that are not UTF-8"),
        ("a: 1".encode("utf-16"), 1, "text saved as UTF-8", "bytes that are not UTF-8"),
        ("[" * 100_000, 1, "a plain value", f"values nested more than {DEPTH_MAX} deep"),
        (
            "a: [" + "1," * VALUES_MAX + "]",
            1,
            "a plain value",
            f"more than {VALUES_MAX:,} of them in the file",
        ),
    ],
)
def test_what_is_not_plain_yaml_is_said_in_plain_words_with_its_line(
    raw: str | bytes, line: int, expected: str, found: str
) -> None:
    assert problems_of(raw) == (Problem("f.yaml", line, "", expected, found),)


def test_a_key_that_stands_twice_is_refused_with_both_lines_at_every_depth() -> None:
    assert problems_of("a: 1\nb:\n  - c: 1\n    d: 2\n    c: 3\na: 2\n") == (
        Problem("f.yaml", 5, "b[1].c", "each key once", "it in line 3 and in line 5"),
        Problem("f.yaml", 6, "a", "each key once", "it in line 1 and in line 6"),
    )


def test_references_cannot_unfold_a_small_file_to_a_huge_one() -> None:
    layers = "".join(f"l{n}: &l{n} [*l{n - 1}, *l{n - 1}, *l{n - 1}]\n" for n in range(1, 40))
    (problem,) = problems_of(f"l0: &l0 x\n{layers}")
    assert problem.line == 1
    assert problem.found.startswith("a reference or anchor")


def test_a_merge_key_is_a_key_like_any_other() -> None:
    assert parse_mapping(b"<<: {a: 1}\nb: 2\n", "f").data == {"<<": {"a": 1}, "b": 2}


def test_a_byte_order_mark_is_no_part_of_the_first_key() -> None:
    assert parse_mapping(b"\xef\xbb\xbfid: a\r\nx: b\r\n", "f").data == {"id": "a", "x": "b"}


def test_a_folder_and_an_absent_file_are_told_apart(tmp_path: Path) -> None:
    absent = tmp_path / "absent.yaml"
    for path, found in ((tmp_path, "a folder"), (absent, "no file of this name")):
        with pytest.raises(InvalidFile) as refused:
            read_mapping(path)
        assert refused.value.problems == (Problem(str(path), None, "", "a file", found),)


def test_a_name_that_no_system_takes_is_an_absent_file_and_not_a_crash() -> None:
    for name in ("x" * 5000 + ".yaml", "nul\0.yaml"):
        with pytest.raises(InvalidFile) as refused:
            read_mapping(name)
        assert refused.value.problems[0].line is None


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_what_is_not_a_regular_file_is_never_opened(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.yaml"
    if sys.platform != "win32":
        os.mkfifo(pipe)
    with pytest.raises(InvalidFile, match="no file of this name"):
        read_mapping(pipe)


def test_a_file_that_may_not_be_read_is_one_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.yaml"
    path.write_text("id: a\n")

    def refuse(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(InvalidFile) as refused:
        read_mapping(path)
    assert refused.value.problems == (
        Problem(str(path), None, "", "a file that can be read", "Permission denied"),
    )


def test_the_size_limit_is_exact(tmp_path: Path) -> None:
    path = tmp_path / "big.yaml"
    path.write_text("id: a\n#" + "x" * (SIZE_MAX_BYTES - 7))
    assert read_mapping(path).data == {"id": "a"}
    path.write_text("id: a\n#" + "x" * (SIZE_MAX_BYTES - 6))
    with pytest.raises(InvalidFile) as refused:
        read_mapping(path)
    assert refused.value.problems == (Problem(str(path), None, "", "at most 1 MB of text", "a larger file"),)


def test_a_problem_reads_as_one_sentence() -> None:
    problem = Problem("f.yaml", 3, "screen.widht", "a key that is known here", '"widht"', "screen.width")
    assert str(problem) == (
        'f.yaml, line 3: screen.widht: expected a key that is known here, found "widht"; '
        "did you mean screen.width?"
    )
    assert (
        str(Problem("f.yaml", None, "", "a file", "a folder")) == "f.yaml: expected a file, found a folder."
    )


def test_a_hostile_name_cannot_move_the_cursor_of_a_terminal() -> None:
    assert str(Problem("\x1b[2J.yaml", None, "a\nb", "x", "\ud800")) == (
        "\\x1b[2J.yaml: a\\nb: expected x, found \\ud800."
    )


def test_an_invalid_file_has_one_line_for_each_problem_and_survives_the_way_between_processes() -> None:
    problems = (Problem("f", 1, "a", "x", "y"), Problem("f", 2, "b", "x", "y"))
    error = InvalidFile(problems)
    assert isinstance(error, ProfileError)
    assert str(error) == "f, line 1: a: expected x, found y.\nf, line 2: b: expected x, found y."
    again = pickle.loads(pickle.dumps(error))
    assert (type(again), again.problems, str(again)) == (InvalidFile, problems, str(error))


@pytest.mark.parametrize(
    ("place", "text"),
    [
        ((), ""),
        (("id",), "id"),
        (("video", "codecs", "H.264", "level_max"), "video.codecs.H.264.level_max"),
        (("player", "settings", 1, "value"), "player.settings[2].value"),
    ],
)
def test_places_are_dotted_and_entries_count_from_one(place: tuple[str | int, ...], text: str) -> None:
    assert dotted(place) == text


words = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs", "S")), max_size=12)
plain_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**15), 10**15) | words | st.floats(-1e15, 1e15),
    lambda inside: st.lists(inside, max_size=4) | st.dictionaries(words, inside, max_size=4),
    max_leaves=12,
)


def tuples_for_lists(value: Any) -> Any:
    """The same value as this reader gives it."""
    if isinstance(value, dict):
        return {key: tuples_for_lists(inside) for key, inside in value.items()}
    return tuple(map(tuples_for_lists, value)) if isinstance(value, list) else value


@given(st.dictionaries(words, plain_values, min_size=1, max_size=4))
def test_json_is_yaml_and_means_the_same_here(data: dict[str, Any]) -> None:
    text = json.dumps(data, ensure_ascii=False)
    assert parse_mapping(text.encode(), "f.json").data == tuples_for_lists(data)


yaml_like = st.lists(
    st.sampled_from(
        ["a", "b: ", "- ", "\n", "  ", "\t", "[", "]", "{", "}", ", ", "'", '"', "&x", "*x", "!t", "|", ">"]
    )
    | st.sampled_from(["#", "%", "? ", "---\n", "1", "true", "\0", "\x85", "é", "\ufeff", "<<: "]),
    max_size=30,
).map("".join)


def text_or_refusal(raw: bytes) -> tuple[str, ...]:
    """The keys of a document, or the sentences of its refusal."""
    try:
        return tuple(parse_mapping(raw, "f.yaml").data)
    except InvalidFile as error:
        return tuple(f"f.yaml refused: {problem}" for problem in error.problems) or (
            "refused without a reason",
        )


@given(st.binary(max_size=200) | yaml_like.map(str.encode))
def test_any_bytes_end_in_a_document_or_in_sentences(raw: bytes) -> None:
    answer = text_or_refusal(raw)
    assert [type(part) for part in answer] == [str] * len(answer)
    assert "refused without a reason" not in answer
