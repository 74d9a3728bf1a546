"""Minutes left on the pack without a log, from what was read by hand so far."""

from __future__ import annotations

from estimator.answers.keeping.typed import the_lawns, the_pack
from estimator.answers.minutes import ChargeTrace, MinutesAnswer, MinutesQuestion, gives_little
from estimator.answers.why import Part, Why
from estimator.conversion.cautions import MEASURING, for_pack
from estimator.importer.log import SpotNotes
from estimator.logbook import Logbook, mow_count


def minutes_of_notes(logbook: Logbook, notes: SpotNotes, question: MinutesQuestion) -> MinutesAnswer:
    """Minutes left, from what hand readings say of the mow so far.

    `question.files` is not looked at. Mowing is taken to go on as so far; `lawn` is asked about as one that
    should be mown too.
    """
    from estimator.answers.figures.load_profile import profile_of
    from estimator.answers.figures.pack_chain import fit_of_pack
    from estimator.answers.figures.pack_now import by_a_guess, pack_now
    from estimator.fitting.by_hand.spot_doubts import spot_doubts
    from estimator.predictor.minutes_by_hand import minutes_left_by_hand

    described = the_pack(logbook, question.pack)
    pack = fit_of_pack(logbook, described)
    asked = (question.lawn,) if question.lawn is not None else ()
    lawns = the_lawns(logbook, asked) if asked or question.one_more else ()
    left = minutes_left_by_hand(
        notes, pack, question.start_charge, question.level,
        load=profile_of(logbook) if lawns or mow_count(logbook) else None,
        lawns=lawns, grass=question.grass, temperature_c=question.temperature_c,
    )  # fmt: skip
    minutes = notes.minutes or 60 * left.used_wh / left.mean_power_w  # likely minutes where none were noted
    start = left.charge + left.used_ah / pack.capacity_ah
    spread = max(0.0, left.charge_high - left.charge_low) / 2
    ends = (start, left.charge), (min(start, 1.0) - spread, left.charge_low), (start, left.charge_high)
    return MinutesAnswer(
        minutes=left.minutes,
        low=left.low,
        high=left.high,
        level=question.level,
        charge=left.charge,
        charge_low=left.charge_low,
        charge_high=left.charge_high,
        used_ah=left.used_ah,
        used_wh=left.used_wh,
        measured_minutes=minutes,
        pack=pack.name,
        trace=ChargeTrace((0.0, 60 * minutes), *ends),
        ends_min=left.ends_min,
        doubts=left.doubts,
        more=left.more,
        remarks=(
            *(
                ("Nobody said how full the pack was: nine in ten begin full.",)
                if question.start_charge is None
                and notes.rest_before_v is None
                and notes.gauge_before is None
                else ()
            ),
            *gives_little(
                left.minutes, left.mean_power_w, left.charge * pack.capacity_ah, left.used_wh / left.used_ah
            ),
            *by_a_guess(pack),
            *spot_doubts(notes, pack, question.start_charge, question.temperature_c),
        ),
        notes=(),
        why=Why(
            parts=(
                Part("mean power so far", left.mean_power_w, "W", "from typical current, minutes and volts"),
                Part(
                    "charge used", left.used_ah, "Ah", f"{left.used_ah_low:.2f} to {left.used_ah_high:.2f} Ah"
                ),
                *pack_now(pack).parts(),
                Part("cut-off", pack.cut_off_v, "V", f"counts when held for {pack.hold_s:g} s under load"),
            ),
            assumptions=(
                *(() if question.start_charge is not None else ("Nine packs in ten begin full.",)),
                "The mowing goes on as so far, turns and stops included.",
            ),
            sources=("Pack model: Plett, J. Power Sources 134 (2004) 252-292.",),
            cautions=(MEASURING, *for_pack(pack.chemistry)[:1]),
        ),
    )
