"""One new file on its way: its sound brought to level, its picture encoded, then looked at and proved.

It must not open its master for anything but reading, and gives the file its name when all of that is done.
"""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from mediacheck.errors import ProgramError
from mediacheck.inspection import decode_limit_s, sha256_of
from mediacheck.measure.decode import measure
from mediacheck.measure.graph import Alongside
from mediacheck.measure.model import Measurements
from mediacheck.media.facts import MediaFacts
from mediacheck.output import Beside
from mediacheck.repair import commands, compare, look, loudness
from mediacheck.repair.commands import SECOND, Job, Line, Places
from mediacheck.repair.compare import Measure, Pair, Sampling, Source
from mediacheck.repair.encode import OnSecond, make, plainly_named
from mediacheck.repair.loudness import Heard, Levelling
from mediacheck.repair.model import Likeness, Made, Same, SoundRecipe
from mediacheck.repair.one_graph import for_version
from mediacheck.repair.pace import OnShare, Pace
from mediacheck.repair.task import Task, encode_limit_s

LISTENING, ENCODING, FIRST_PASS, PROVING = 0.05, 1.0, 0.5, 0.15
"""Weights of the stages: about how long they take."""
ROOM_SHARE = 0.5
"""Of what is free where the pictures of the master are kept while the new file is made."""


class Making:
    """The steps of one task, in this order: `prepare`, `run` (or a run with others), `fit`, `finish`."""

    def __init__(self, task: Task, address: str, folder: Path, beside: Beside, pace: Pace) -> None:
        """`folder` is empty and goes away afterwards; `beside` is where the new file grows."""
        folder.mkdir(parents=True, exist_ok=True)
        self.task = task
        self.pace = pace
        self._folder, self._beside = folder, beside
        self._address = address
        new = f"file:{beside.path}"
        self._places = Places(address, new, (folder / "lut.cube").as_posix(), (folder / "passes").as_posix())
        self._kept = folder / "reference.nut"
        self._measure: Measure = "SSIM"
        self._sampling = Sampling()
        self._level = Levelling("")
        self._recipe = task.recipe
        self._limit_s = encode_limit_s(task)
        self._read_limit_s = decode_limit_s(task.master_bytes)
        self._proves = task.prove and look.is_encoded(task.recipe)

    @staticmethod
    def weight(task: Task) -> float:
        """Of all its stages together."""
        picture, sound = task.recipe.picture, task.recipe.sound
        listening = LISTENING if sound and sound.levels else 0.0
        two = FIRST_PASS if picture and picture.two_passes else 0.0
        return listening + two + ENCODING + PROVING

    @property
    def job(self) -> Job:
        """What is to be run."""
        return Job(self._recipe, self._level.filters, self._places)

    def prepare(self) -> None:
        """Listen to the sound, and write the table of colours."""
        recipe = self.task.recipe
        if recipe.sound is not None and recipe.sound.levels is not None and not recipe.sound.copied:
            self.pace.stage(LISTENING)
            self._level = self._levelled(recipe.sound)
        if recipe.picture is not None and recipe.picture.tone is not None:
            from mediacheck.repair.tone import cube

            Path(self._places.lut).write_text(cube(recipe.picture.tone), "ascii")
        if self._proves and recipe.still is None:
            self._measure = "VMAF" if compare.has_vmaf(self.task.ffmpeg) else "SSIM"
            frames = round((self.task.seconds or 0.0) * self.task.frames_per_s)
            room_bytes = round(ROOM_SHARE * shutil.disk_usage(self._folder).free)
            self._sampling = compare.sampling_for(self._measure, frames, *self.task.size_px, room_bytes)

    def reference(self) -> Line:
        """Arguments behind all new files of a run, which keep pictures of the master for the proof."""
        recipe = self.task.recipe
        if not self._proves:
            return ()
        out = f"file:{self._kept}"
        if recipe.picture is None or recipe.still is not None:
            return compare.still_reference(recipe.still_arguments, out)
        filters = commands.with_lut(recipe.picture.filters, self._places.lut)
        return compare.reference(filters, self._sampling, out)

    def run(self) -> None:
        """Make the file, in a run or two of its own."""
        reference, number = self.reference(), 0
        if self._two_passes:
            on_second = self.on_second(self.pace.stage(FIRST_PASS))
            self._make((*commands.first_pass(self.job), *reference), on_second)
            reference, number = (), SECOND
        on_second = self.on_second(self.pace.stage(ENCODING))
        self._make((*commands.making(self.job, pass_number=number), *reference), on_second)

    @property
    def _two_passes(self) -> bool:
        picture = self._recipe.picture
        return picture is not None and not picture.copied and picture.two_passes

    def on_second(self, on_share: OnShare) -> OnSecond:
        """What the encoder tells in seconds, as a share."""
        whole_s = self.task.seconds
        return lambda second: on_share(second / whole_s if whole_s else 0.0)

    def fit(self) -> None:
        """If the file is larger than it may be: once more, at a lower rate."""
        most = self._recipe.size_max_bytes
        if most is None or self._size_bytes() <= most:
            return
        self._recipe = look.slimmer(self._recipe, self._looked(), self._size_bytes())
        self._beside.path.unlink()
        number = SECOND if self._two_passes else 0
        on_second = self.on_second(self.pace.stage(0.0))
        self._make(commands.making(self.job, pass_number=number), on_second)
        if self._size_bytes() > most:
            raise look.too_large(self._size_bytes(), most)

    def finish(self) -> Made:
        """Look at the file, prove it, and give it its name."""
        facts = self._looked()
        look.demand_whole(self.task, facts)
        same = self._same()
        measured = self._carried(facts, same)
        like = None
        if self._proves:
            like, measured = self._proved(facts)
        heard = self._heard(measured)
        digest, size_bytes = sha256_of(self._beside.path), self._size_bytes()
        self._beside.settle()
        if measured is not None and self.task.cache is not None:
            self.task.cache.keep(self.task.checked_as(digest, facts), measured)
        self.pace.ended()
        sound = self.task.recipe.sound
        notes = self._level.notes + (loudness.missed(sound.levels, heard) if sound and sound.levels else ())
        made = Made(digest, size_bytes, self._lines(), same, like, notes=notes)
        return replace(made, loudness_lufs=heard.loudness_lufs, true_peak_dbtp=heard.true_peak_dbtp)

    def _lines(self) -> tuple[Line, ...]:
        job = replace(self.job, places=Places())
        if not self._two_passes:
            return (("ffmpeg", *commands.making(job)),)
        second = commands.making(job, pass_number=SECOND)
        return ("ffmpeg", *commands.first_pass(job)), ("ffmpeg", *second)

    def _make(self, line: Line, on_second: OnSecond | None = None) -> None:
        line = for_version(line, self.task.ffmpeg_version)
        make(self.task.ffmpeg, line, self.task.out, self._limit_s, on_second, accepted=self.task.accepted)

    def _levelled(self, sound: SoundRecipe) -> Levelling:
        assert sound.levels is not None
        inputs = (*commands.opening(self.job), *sound.input)
        listen = partial(loudness.listen, self.task.ffmpeg, limit_s=self._read_limit_s)

        def rehearse(level: str) -> Heard:
            trial = self._folder / "trial.mka"
            trial.unlink(missing_ok=True)
            self._make(loudness.rehearsal(inputs, sound, level, f"file:{trial}"))
            return listen(("-i", f"file:{trial}"), "0:a:0", "")

        before = listen(inputs, sound.track, commands.sound_filters(sound, ""))
        return loudness.levelling(before, sound.levels, sound.rate_hz, rehearse)

    def _heard(self, measured: Measurements | None) -> Heard:
        sound = self.task.recipe.sound
        if sound is None or sound.levels is None:
            return Heard(None, None)
        if measured is not None and measured.sound is not None:
            return Heard(measured.sound.loudness_lufs, measured.sound.true_peak_dbtp)
        return loudness.listen(self.task.ffmpeg, ("-i", self._places.new), "0:a:0", "", self._read_limit_s)

    def _same(self) -> tuple[Same, ...]:
        """Of all that was copied."""
        picture, sound = self.task.recipe.picture, self.task.recipe.sound
        shown = "0:V:0" if picture and picture.copied else None
        heard = sound.track if sound and sound.copied else None
        if not shown and not heard:
            return ()
        master = Source(commands.opening(self.job), shown, heard)
        new = Source(("-i", self._places.new), shown, heard and "0:a:0")
        return compare.same(self.task.ffmpeg, master, new, self._read_limit_s)

    def _carried(self, facts: MediaFacts, same: Sequence[Same]) -> Measurements | None:
        """What the check of the master measured, where nothing but the container is new."""
        task = self.task
        streams = int(facts.video is not None) + len(facts.audio)
        whole = len(same) == streams and all(one.of == "packets" for one in same)
        if not whole or task.cache is None or task.master_sha256 is None:
            return None
        if not look.decodes_alike(task.facts, facts):
            return None
        return task.cache.find(task.checked_as(task.master_sha256, task.facts))

    def _proved(self, facts: MediaFacts) -> tuple[Likeness, Measurements | None]:
        """How like it is to its master; and what its check will ask for, since one decode serves both."""
        on_share = self.pace.stage(PROVING)
        new = self._places.new
        if self.task.recipe.still is not None:
            new = plainly_named(new, self._folder)
        pair = Pair(self.task.ffmpeg, self._kept, new, self._sampling, self._limit_s)
        frames, measured = look.frames_in(self.task, facts), None
        if facts.video is not None and self.task.cache is not None:
            measured = self._measured(facts, compare.beside(pair, self._measure), on_share)
        known = compare.scores(pair, self._measure) if measured else ()
        found = compare.likeness(pair, self._measure, self.task.quality_floor, frames, on_share, known)
        if not found.enough:
            raise look.unlike(found, self._recipe)
        return found, measured

    def _measured(self, facts: MediaFacts, beside: Alongside, on_share: OnShare) -> Measurements | None:
        """None where the one process could not do both: then each is done by itself, and tells what is wrong
        with the file. What went wrong here may lie in the comparison: some filters of VMAF crash."""
        tell = self.on_second(on_share)
        try:
            measured = measure(
                self.task.ffmpeg, self._beside.path, facts, 0, self._limit_s, tell, beside
            ).measurements
        except (ProgramError, OSError):
            return None
        return None if measured.decode_errors else measured

    def _looked(self) -> MediaFacts:
        return look.facts_of(self._beside.path, self.task.out.name)

    def _size_bytes(self) -> int:
        return self._beside.path.stat().st_size
