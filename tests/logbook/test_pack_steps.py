"""However mows are added, edited, removed and described, the fit is that of all mows from the first on."""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator import logbook as kept
from estimator.answers.figures import pack_chain, pack_fits, pack_steps
from estimator.answers.figures.pack_chain import fit_of_pack, one_step, steps_of_pack
from estimator.answers.figures.pack_fits import FIT, rounded
from estimator.answers.figures.pack_steps import CHAIN_VERSION, PackStep, kept_end
from estimator.answers.keeping import changing
from estimator.answers.keeping import keep as keeping
from estimator.answers.keeping.keep import Circumstances
from estimator.descriptions import Grass, Lawn, Pack
from estimator.errors import MowchargeError
from estimator.fitting.pack.fitted_pack import FittedPack, as_fitted
from estimator.logbook import Logbook, open_logbook
from estimator.mow import day_of

PACKS = ("new one", "old one")
FULL = Pack(chemistry="nmc", series=13, capacity_ah=10.0, cut_off_v=39.0)
PROGRAM = Path(__file__).with_name("adds.py")


def invented(number: int) -> bytes:
    """An invented minute of mowing, a different one for every number."""
    rows = (f"{s},{6 + (s * number) % 5 / 4},{51 - s / 300 - number / 1000}" for s in range(0, 62, 2))
    return ("time_s,current_a,voltage_v\n" + "\n".join(rows) + "\n").encode()


@dataclass
class Stepping:
    """A stand-in for the fit: quick, and sensitive to the order of mows and to all that a step rests on.

    Once, in the middle of a step, it calls `meanwhile`: what another program does at that moment.
    """

    meanwhile: Callable[[], None] | None = None
    steps: int = 0

    def __call__(
        self,
        fitted: Pack,
        log: Any,
        start_charge: float | None,
        temperature_c: float | None,
        day: date | None,
    ) -> FittedPack:
        self.steps += 1
        if self.meanwhile is not None:
            now, self.meanwhile = self.meanwhile, None
            now()
        known = as_fitted(fitted)
        drawn = float(log.readings["current_a"].sum() + log.readings["voltage_v"].sum())
        learnt = drawn / 1e4 + (start_charge or 0.3) / 7 + (temperature_c or 11) / 300
        learnt += (day.toordinal() % 97) / 900 if day else 0.0
        return rounded(replace(known, mean=0.8 * known.mean + learnt / 10, logs=known.logs + 1))


@pytest.fixture
def stepping(monkeypatch: pytest.MonkeyPatch) -> Stepping:
    steps = Stepping()
    for module in (keeping, pack_chain):
        monkeypatch.setattr(module, "one_step", steps)
    return steps


def described(book: Logbook) -> None:
    kept.keep_lawn(book, Lawn("orchard", area_m2=20))
    kept.keep_lawn(book, Lawn("green", area_m2=260))
    for name in PACKS:
        kept.keep_pack(book, replace(FULL, name=name))


def from_the_beginning(book: Logbook, pack: Pack, step: Callable[..., FittedPack]) -> list[FittedPack]:
    fits = []
    for mow in kept.mows(book, pack=pack.name):
        before = fits[-1] if fits else as_fitted(pack)
        log, day = kept.log_of(book, mow.id), day_of(mow.started)
        fits.append(step(before, log, mow.start_charge, mow.temperature_c, day))
    return fits


def holds(book: Logbook, step: Callable[..., FittedPack], *, steps_first: bool = False) -> None:
    """Check that kept fits and steps are exactly those worked out from the beginning."""
    for pack in kept.packs(book):
        numbers = [mow.id for mow in kept.mows(book, pack=pack.name)]
        expected = from_the_beginning(book, pack, step)
        last = expected[-1] if expected else as_fitted(pack)
        steps = steps_of_pack(book, pack) if steps_first else ()
        assert fit_of_pack(book, pack).as_plain() == last.as_plain()
        steps = steps or steps_of_pack(book, pack)
        assert [each.mow for each in steps] == numbers
        assert steps == tuple(
            PackStep.of(each.mow, each.mark, fitted) for each, fitted in zip(steps, expected, strict=True)
        )


@dataclass
class Gardener:
    """Somebody who does one thing after another to a logbook, and ignores refusals."""

    book: Logbook
    rng: random.Random
    name: str
    count: int = 0

    def act(self) -> None:
        try:
            self.rng.choice(self.acts())()
        except MowchargeError as refused:
            assert "this should not" not in str(refused)

    def acts(self) -> list[Callable[[], object]]:
        return [
            *[self.add] * 4, self.add_plainly, *[self.edit] * 2, self.edit_words, self.remove, self.restore,
            self.purge, self.describe, self.ask, self.ask_steps, self.forget_a_fit,
        ]  # fmt: skip

    def started(self) -> datetime | None:
        if self.rng.random() < 0.1:
            return None
        later = self.count if self.rng.random() < 0.6 else self.rng.randrange(-5, 30)
        return datetime(2025, 5, 1, 9) + timedelta(days=later)

    def charge(self) -> float | None:
        return self.rng.choice([None, 1.0, 0.8])

    def new_file(self) -> list[tuple[str, bytes]]:
        self.count += 1
        return [(f"{self.name} {self.count}.csv", invented(1000 * (ord(self.name[0]) % 7) + self.count))]

    def any_mow(self) -> int:
        return self.rng.randrange(1, kept.newest_number(self.book) + 2)

    def pack(self) -> Pack:
        return kept.pack(self.book, self.rng.choice(PACKS))

    def add(self) -> None:
        said = Circumstances("orchard", self.pack().name, start_charge=self.charge(), started=self.started())
        keeping.add_mow(self.book, self.new_file(), said)

    def add_plainly(self) -> None:
        """Add a mow as a program would that knows nothing of fits."""
        kept.add_mow(
            self.book, self.new_file(), lawn="orchard", pack=self.pack().name, started=self.started()
        )

    def edit(self) -> None:
        edits: dict[str, Any] = self.rng.choice(
            [
                {"start_charge": self.charge()},
                {"temperature_c": self.rng.choice([None, 4.0])},
                {"started": self.started() or datetime(2025, 1, 1)},
                {"pack": self.pack().name},
                {"decisions": self.rng.choice([{}, {"zero_a": 0.5}])},
            ]
        )
        edit = self.rng.choice([changing.edit_mow, kept.edit_mow])
        edit(self.book, self.any_mow(), **edits)

    def edit_words(self) -> None:
        words = self.rng.choice([{"tags": ("x",)}, {"grass": Grass("wet")}, {"lawn": "green"}])
        kept.edit_mow(self.book, self.any_mow(), **words)

    def remove(self) -> None:
        self.rng.choice([changing.remove_mow, kept.remove_mow])(self.book, self.any_mow())

    def restore(self) -> None:
        self.rng.choice([changing.restore_mow, kept.restore_mow])(self.book, self.any_mow())

    def purge(self) -> None:
        kept.purge_mow(self.book, self.any_mow())

    def describe(self) -> None:
        kept.keep_pack(self.book, replace(self.pack(), capacity_ah=self.rng.choice([9.0, 10.0])))

    def ask(self) -> None:
        fit_of_pack(self.book, self.pack())

    def ask_steps(self) -> None:
        steps_of_pack(self.book, self.pack())

    def forget_a_fit(self) -> None:
        kept.forget_derived(self.book, self.any_mow(), FIT)


def season(place: str, stepping: Stepping, seed: int, acts: int) -> None:
    """Two gardeners in turn; now and then one acts in the middle of what the other does."""
    rng = random.Random(seed)
    with open_logbook(place) as one, open_logbook(place) as other:
        described(one)
        first, second = Gardener(one, rng, "ann"), Gardener(other, rng, "bob")
        for _ in range(acts):
            if rng.random() < 0.3:
                stepping.meanwhile = second.act
            rng.choice([first, second]).act()
            stepping.meanwhile = None
            if rng.random() < 0.15:
                holds(rng.choice([one, other]), stepping, steps_first=rng.random() < 0.5)
        holds(one, stepping)


def keep_only(patch: pytest.MonkeyPatch, last: int, every: int) -> None:
    """Keep whole fits of the `last` mows, and of one mow in `every` before them."""
    for module in (pack_steps, pack_fits):
        patch.setattr(module, "KEEP_LAST", last)
    patch.setattr(pack_fits, "KEEP_EVERY", every)


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 2**32), last=st.sampled_from([1, 2, 4, 16]))
def test_after_any_season_of_edits_the_fit_is_that_from_the_beginning(seed: int, last: int) -> None:
    with TemporaryDirectory(prefix="mowcharge-") as folder, pytest.MonkeyPatch.context() as patch:
        keep_only(patch, last, every=3)
        steps = Stepping()
        for module in (keeping, pack_chain):
            patch.setattr(module, "one_step", steps)
        season(str(Path(folder) / "logbook.sqlite"), steps, seed, 20)


def test_a_long_season_of_two_gardeners(
    place: str, stepping: Stepping, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_only(monkeypatch, 3, every=4)
    season(place, stepping, 7, 40)


@pytest.fixture(scope="module")
def ten_kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A logbook file with ten mows of one pack, a week apart; do not write to it."""
    path = tmp_path_factory.mktemp("ten") / "logbook.sqlite"
    with pytest.MonkeyPatch.context() as patch, open_logbook(path) as book:
        for module in (keeping, pack_chain):
            patch.setattr(module, "one_step", Stepping())
        add_ten(book)
    return path


def add_ten(book: Logbook) -> None:
    described(book)
    for number in range(10):
        add(book, number)


@pytest.fixture
def ten(ten_kept: Path, tmp_path: Path, stepping: Stepping) -> Iterator[Logbook]:
    """A copy of that file; other tests ask both kinds of database what matters here."""
    with open_logbook(shutil.copy(ten_kept, tmp_path / "ten.sqlite")) as book:
        yield book


def add(book: Logbook, number: int, pack: str = "new one", day: float | None = None) -> int:
    started = datetime(2025, 4, 1, 9) + timedelta(days=7.0 * number if day is None else day)
    said = Circumstances("orchard", pack, start_charge=1.0, started=started)
    found = keeping.add_mow(book, [(f"{number}.csv", invented(number + 1))], said)
    assert found.mow is not None
    return found.mow


def test_adding_the_next_mow_lists_and_reads_no_earlier_one(
    ten: Logbook, stepping: Stepping, monkeypatch: pytest.MonkeyPatch
) -> None:
    listed: list[int] = []
    list_mows = kept.mows

    def counted(*where: Any, **which: Any) -> Any:
        found = list_mows(*where, **which)
        listed.append(len(found))
        return found

    for module in ("figures.pack_chain", "figures.pack_steps", "keeping.keep.kept"):
        monkeypatch.setattr(f"estimator.answers.{module}.mows", counted)
    monkeypatch.setattr("estimator.answers.figures.pack_chain.log_of", refuse)
    add(ten, 10)
    add(ten, 11, pack="old one")
    add(ten, 12)
    assert sum(listed) <= 6, listed
    assert stepping.steps == 3


def refuse(*_: object) -> None:
    raise AssertionError("an earlier log was read again")


def test_mows_that_others_kept_are_only_added_to_the_end(ten: Logbook, stepping: Stepping) -> None:
    for number in (10, 11):
        started = datetime(2025, 4, 1) + timedelta(days=7 * number)
        kept.add_mow(
            ten, [(f"{number}.csv", invented(number + 1))], lawn="orchard", pack="new one", started=started
        )
    add(ten, 12)
    assert stepping.steps == 3
    holds(ten, stepping)


@pytest.mark.parametrize(
    ("change", "again"),
    [
        (lambda book: kept.edit_mow(book, 8, start_charge=0.8), 3),
        (lambda book: kept.edit_mow(book, 10, temperature_c=4.0), 1),
        (lambda book: kept.edit_mow(book, 9, started=datetime(2025, 1, 1)), 10),
        (lambda book: kept.edit_mow(book, 9, pack="old one"), 1),
        (lambda book: kept.remove_mow(book, 9), 1),
        (lambda book: kept.edit_mow(book, 1, tags=("x",), lawn="green", grass=Grass("wet")), 0),
        (lambda book: kept.keep_lawn(book, Lawn("orchard", 421)), 0),
        (lambda book: kept.keep_pack(book, replace(FULL, name="new one", capacity_ah=11.0)), 10),
        (lambda book: kept.keep_pack(book, replace(FULL, name="old one", capacity_ah=11.0)), 0),
        (lambda book: add(book, 20, day=-1), 11),
        (lambda book: kept.rename(book, "lawn", "orchard", "apple rows"), 0),
        (lambda book: kept.rename(book, "pack", "old one", "grey box"), 0),
    ],
)
def test_no_more_is_worked_out_anew_than_what_an_edit_bears_on(
    ten: Logbook, stepping: Stepping, change: Callable[[Logbook], object], again: int
) -> None:
    change(ten)
    fit_of_pack(ten, kept.pack(ten, "new one"))
    assert stepping.steps == again
    holds(ten, stepping)


def test_an_edit_goes_back_to_the_last_whole_fit_before_it(
    place: str, stepping: Stepping, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of ten mows, the whole fits after the 1st, 5th and 9th and after the last two are kept."""
    keep_only(monkeypatch, 2, every=4)
    with open_logbook(place) as book:
        described(book)
        for number in range(10):
            add(book, number)
        pack = kept.pack(book, "new one")
        for edited, again in ((10, 1), (9, 5), (6, 5), (5, 9), (1, 10)):
            kept.edit_mow(book, edited, start_charge=edited / 11)
            stepping.steps = 0
            fit_of_pack(book, pack)
            assert (edited, stepping.steps) == (edited, again)
        holds(book, stepping)


@pytest.mark.parametrize("back", [1, 3, 9])
def test_a_mow_somewhat_out_of_order_costs_its_own_step_and_the_next_answer_those_after_it(
    ten: Logbook, stepping: Stepping, monkeypatch: pytest.MonkeyPatch, back: int
) -> None:
    """Earlier mows are not listed for it; later ones are read again once, when the pack is asked for."""
    read: list[int] = []
    log_of = kept.log_of

    def counted(book: Logbook, number: int) -> Any:
        read.append(number)
        return log_of(book, number)

    monkeypatch.setattr("estimator.answers.figures.pack_chain.log_of", counted)
    monkeypatch.setattr("estimator.answers.figures.pack_chain.chain_of", refuse)
    add(ten, 20, day=7.0 * (9 - back) + 1)
    assert read == []
    assert stepping.steps == 1
    fit_of_pack(ten, kept.pack(ten, "new one"))
    assert read == list(range(11 - back, 11))
    assert stepping.steps == back + 1
    monkeypatch.undo()
    for module in (keeping, pack_chain):
        monkeypatch.setattr(module, "one_step", stepping)
    stepping.steps = 0
    fit_of_pack(ten, kept.pack(ten, "new one"))
    assert stepping.steps == 0
    holds(ten, stepping)


def test_whole_fits_stay_few_whatever_the_order_of_adding(
    place: str, stepping: Stepping, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_only(monkeypatch, 3, every=4)
    order = list(range(16))
    random.Random(3).shuffle(order)
    with open_logbook(place) as book:
        described(book)
        for number in order:
            add(book, number)
        fit_of_pack(book, kept.pack(book, "new one"))
        numbers = [mow.id for mow in kept.mows(book, pack="new one")]
        whole = kept.derived_of_mows(book, FIT, CHAIN_VERSION)
        assert set(whole) == {*numbers[::4], *numbers[-3:]}
        holds(book, stepping)


def test_both_halves_of_a_kept_covariance_are_alike() -> None:
    prior = as_fitted(FULL)
    upper = np.triu(np.full(prior.covariance.shape, 1e-6), 1)
    kept_half = rounded(replace(prior, covariance=prior.covariance + upper)).covariance
    assert (kept_half == kept_half.T).all()
    np.testing.assert_allclose(kept_half, prior.covariance, rtol=1e-8)


@pytest.mark.parametrize("last", [16, 3])
def test_a_mow_with_later_ones_does_not_hold_up_others(
    place: str, stepping: Stepping, monkeypatch: pytest.MonkeyPatch, last: int
) -> None:
    """While its fit is worked out another program can add mows, however many later mows there are."""
    keep_only(monkeypatch, last, every=16)
    with open_logbook(place) as book, open_logbook(place) as other:
        described(book)
        for number in range(10):
            add(book, number)

        def look_in() -> None:
            assert len(kept.mows(other)) == 10
            add(other, 31, pack="old one")

        stepping.meanwhile = look_in
        add(book, 30, day=-1)
        assert stepping.meanwhile is None
        assert len(kept.mows(other)) == 12
        holds(book, stepping)


def test_a_renamed_pack_keeps_what_its_mows_know(ten: Logbook, stepping: Stepping) -> None:
    before = fit_of_pack(ten, kept.pack(ten, "new one"))
    kept.rename(ten, "pack", "new one", "green crate")
    crate = kept.pack(ten, "green crate")
    after = fit_of_pack(ten, crate)
    assert stepping.steps == 0
    assert (after.name, after.rated) == ("green crate", crate)
    assert (after.mean == before.mean).all()
    assert len(steps_of_pack(ten, crate)) == 10
    add(ten, 10, pack="green crate")
    assert stepping.steps == 1
    holds(ten, stepping)


@pytest.mark.parametrize("act", ["add", "come after mows kept plainly", "refit", "refit while one is added"])
def test_an_edit_in_the_midst_of_a_fit_is_not_lost(place: str, stepping: Stepping, act: str) -> None:
    """Another program edits an earlier mow during a fit: what the fit then kept would be stale."""
    with open_logbook(place) as ten, open_logbook(place) as other:
        add_ten(ten)

        def edit() -> None:
            if act.endswith("added"):
                add(other, 40)
            else:
                kept.edit_mow(other, 2, start_charge=0.5)

        if act == "add":
            stepping.meanwhile = edit
            add(ten, 10)
        else:
            if act.startswith("refit"):
                kept.edit_mow(ten, 1, start_charge=0.7)
            else:
                kept.add_mow(ten, [("a.csv", invented(77))], lawn="orchard", pack="new one")
            stepping.meanwhile = edit
            fit_of_pack(ten, kept.pack(ten, "new one"))
        assert stepping.meanwhile is None
        stepping.steps = 0
        holds(other, stepping)
        holds(ten, stepping)
        if act.endswith("added"):
            assert kept_end(ten, kept.pack(ten, "new one")) is not None


def test_a_pack_described_otherwise_than_it_is_kept_has_a_fit_of_its_own(
    ten: Logbook, stepping: Stepping
) -> None:
    other = replace(FULL, name="new one", capacity_ah=20.0)
    assert fit_of_pack(ten, other).rated.capacity_ah == 20.0
    holds(ten, stepping)


def test_a_stale_step_is_not_told(ten: Logbook, stepping: Stepping) -> None:
    """A step left over from an interrupted refit rests on what was said before."""
    pack = kept.pack(ten, "new one")
    before = steps_of_pack(ten, pack)
    kept.keep_derived(ten, before[4].mow, "pack step", CHAIN_VERSION, {**vars(before[4]), "mark": "other"})
    kept.keep_derived(ten, before[6].mow, "pack step", CHAIN_VERSION, {**vars(before[6]), "mark": "other"})
    assert steps_of_pack(ten, pack) == before


def test_a_fit_that_cannot_be_kept_is_still_given(
    ten: Logbook, stepping: Stepping, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept.edit_mow(ten, 3, start_charge=0.5)
    only_read = replace(ten, read_only=True)
    holds(only_read, stepping)
    assert kept_end(ten, kept.pack(ten, "new one")) is None
    holds(ten, stepping)
    assert kept_end(ten, kept.pack(ten, "new one")) is not None
    kept.add_mow(ten, [("a.csv", invented(77))], lawn="orchard", pack="new one")
    holds(only_read, stepping)


def test_programs_that_add_at_once_leave_the_fit_of_all(place: str) -> None:
    """With the real fit, in separate processes, in and out of order."""
    with open_logbook(place) as book:
        described(book)
    programs = [
        subprocess.Popen([sys.executable, str(PROGRAM), place, str(number), "4"]) for number in range(2)
    ]
    assert [program.wait(timeout=300) for program in programs] == [0, 0]
    with open_logbook(place) as book:
        assert len(kept.mows(book, pack="new one")) == 8
        holds(book, one_step)
        end = kept_end(book, kept.pack(book, "new one"))
        assert end is not None
        assert len(end) == 8
