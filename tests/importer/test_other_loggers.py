"""What loggers of other trades write, each rule alone: amps without a sign, columns of out and in."""

from __future__ import annotations

import gzip
import io
import time
import zipfile

import numpy as np
import pytest

from estimator.errors import InputError
from estimator.importer.cleaning.mending import Examined
from estimator.importer.layout import search
from estimator.importer.layout.beside import told_interval_s
from estimator.importer.read import examine_bytes
from estimator.importer.table import decode
from estimator.importer.table.markup import from_print
from estimator.importer.table.titles import meaning

T = np.arange(0, 4200.0, 2.0)
WAY = np.select([T < 60, T < 1860, T < 2100, T < 4140], [0, 1, 0, -1], 0)
AMPS = WAY * np.where(WAY > 0, 10 + 2 * np.sign(np.sin(T / 9)), 4.0)
Q = np.concatenate(([0], np.cumsum((AMPS[1:] + AMPS[:-1]) / 2 * np.diff(T)))) / 3600
VOLTS = 52 - 0.8 * Q - 0.1 * AMPS
OUT_AH = float(np.clip((AMPS[1:] + AMPS[:-1]) / 2, 0, None).sum() * 2 / 3600)


def look(titles: str, *columns: object, above: str = "") -> Examined:
    rows = (",".join(map(str, row)) for row in zip(*columns, strict=True))  # type: ignore[call-overload]
    return examine_bytes([("mow.csv", "\n".join([above + titles, *rows]).encode())])


def drawn(e: Examined) -> float:
    return pytest.approx(float(np.clip(e.log.arrays["current_a"], 0, None).sum() * 2 / 3600), rel=0.01)


def test_amps_without_a_sign_are_charging_where_volts_rise_as_they_flow() -> None:
    e = look("time_s,amps,volts", T, np.abs(AMPS), VOLTS)
    assert drawn(e) == OUT_AH
    assert any("Amps have no sign: in 1 stretch volts rise" in n for n in e.log.notes)


def test_amps_that_only_discharge_keep_their_sign_though_volts_recover() -> None:
    """A light load after a heavy one: volts rise for minutes, but fell as its amps began."""
    i = np.where(WAY < 0, 1.0, AMPS)
    recover = np.where(T > 2100, 1.5 * (1 - np.exp(-(T - 2100) / 600)), 0.0)
    e = look("time_s,amps,volts", T, i, 52 - T / 4000 - 0.1 * i + recover)
    assert float(e.log.arrays["current_a"].min()) >= 0
    assert not any("Amps have no sign" in n for n in e.log.notes)


@pytest.mark.parametrize(
    ("titles", "order"),
    [
        ("time_s,Charge current (A),Discharge current (A),Volts", (-1, 1)),
        ("time_s,Entladestrom [A],Ladestrom [A],Spannung [V]", (1, -1)),
    ],
)
def test_amps_out_and_amps_in_have_a_column_each(titles, order) -> None:
    e = look(titles, T, *(np.clip(way * AMPS, 0, None) for way in order), VOLTS)
    assert drawn(e) == OUT_AH


def test_two_columns_that_flow_at_once_are_not_out_and_in() -> None:
    both = look("time_s,Current out [A],Motor current in [A],Volts", T, np.abs(AMPS), 2 * np.abs(AMPS), VOLTS)
    assert not any("less" in n for n in both.log.notes)


@pytest.mark.parametrize(
    ("title", "words"),
    [
        ("Direction", {1: "out", -1: "in", 0: "out"}), ("Charging", {1: "0", -1: "1", 0: "0"}),
        ("Discharging", {1: "yes", -1: "no", 0: "no"}),
        ("estado", {1: "DESCARGA", -1: "CARGA", 0: "a word for rest that nobody knows"}),
        ("\u5de5\u6b65", {1: "\u6052\u6d41\u653e\u7535", -1: "\u6052\u6d41\u5145\u7535", 0: "\u6401\u7f6e"}),
        ("\u00c9tat", {1: "D\u00e9charge", -1: "Charge", 0: "Repos"}),
    ],
)  # fmt: skip
def test_words_and_flags_say_which_way_amps_flow(title, words) -> None:
    still = 52 - np.arange(len(T)) * 1e-5  # volts that say nothing
    e = look(f"time_s,amps,volts,{title}", T, np.abs(AMPS), still, [words[w] for w in WAY])
    assert drawn(e) == OUT_AH
    assert any(f"{title!r} says which way" in n for n in e.log.notes)


def test_of_two_volts_that_a_counter_fits_the_nearer_one_is_taken() -> None:
    i, out = np.clip(AMPS, 0, None), np.r_[0, np.cumsum(np.clip(AMPS * VOLTS, 0, None)[1:])] * 2 / 3600
    e = look("time_s,amps,Volt,VoltR,energy_wh", T, i, VOLTS * 1.03, VOLTS, out)
    assert any("Voltage is 'VoltR' in V: confirmed by 'energy_wh'" in n for n in e.log.notes)


def test_watts_of_a_panel_do_not_confirm_its_amps_as_the_pack_s() -> None:
    sun = 3 + np.sin(T / 300)
    e = look("time_s,Battery V,Battery A,Solar A,Solar W", T, VOLTS, AMPS, sun, sun * VOLTS)
    assert drawn(e) == OUT_AH


def test_volts_that_never_move_are_a_supply_s() -> None:
    i = np.clip(AMPS, 0, None)
    e = look("time_s,amps,V reg,V batt", T, i, np.full(len(T), 5.02), 52 - 0.1 * i)
    assert float(np.median(e.log.arrays["voltage_v"])) > 50


def test_a_full_scale_count_in_both_columns_is_no_reading() -> None:
    i, v = np.clip(AMPS, 0, None).copy(), VOLTS.copy()
    i[500::400] = v[500::400] = 655.35
    e = look("time_s,amps,volts", T, i, v)
    assert float(e.log.arrays["current_a"].max()) < 13 and float(e.log.arrays["voltage_v"].max()) < 55


@pytest.mark.parametrize("stamps", ["elapsed", "date and clock"])
def test_a_logger_that_waits_for_its_sensors(stamps) -> None:
    dead = T < 600
    amps, volts = (
        ["" if d else f"{x:.3f}" for x, d in zip(y, dead, strict=True)] for y in (np.abs(AMPS), VOLTS)
    )
    clocks = [f"{8 + int(t) // 3600:02d}:{int(t) // 60 % 60:02d}:{int(t) % 60:02d}" for t in T]
    columns = ([f"{t:g}" for t in T],) if stamps == "elapsed" else (["2026-05-09"] * len(T), clocks)
    e = look("time_s,amps,volts" if stamps == "elapsed" else "date,time,amps,volts", *columns, amps, volts)
    assert len(e.log.arrays["time_s"]) > 600


def test_intervals_are_written_with_exponents() -> None:
    assert told_interval_s(["Sample Interval,2.000000e-02,s"]) == pytest.approx(0.02)


def test_a_meter_that_prints_one_value_a_line_beside_another_s_table() -> None:
    i = np.clip(AMPS, 0, None)
    clock = [f"10:{int(t) // 60 % 60:02d}:{int(t) % 60:02d}" for t in T[:900]]
    amps = "\n".join(f"{k:5d}  {c}  {a:7.2f} A DC" for k, (c, a) in enumerate(zip(clock, i, strict=False), 1))
    volts = "\n".join(["time;volts", *(f"{c};{v:.2f}" for c, v in zip(clock, VOLTS, strict=False))])
    e = examine_bytes([("a.txt", amps.encode()), ("v.csv", volts.encode())], offset_s=0.0)
    assert e.log.arrays["current_a"].max() == pytest.approx(12, abs=0.1)


def test_a_date_with_its_own_clock_is_not_joined_with_a_clock_from_the_start() -> None:
    def clock(t: float) -> str:
        return f"{int(t) // 3600:02d}:{int(t) // 60 % 60:02d}:{int(t) % 60:02d}.000"

    e = look("Total Time(h:m:s.ms),A,V,Date", [clock(t) for t in T], AMPS, VOLTS,
             [f"2026-05-09 {clock(t + 36000)[:8]}" for t in T])  # fmt: skip
    assert e.log.started is not None and e.log.started.hour == 10
    assert drawn(e) == OUT_AH


def test_units_stand_behind_points_too() -> None:
    assert [m.quantity for m in map(meaning, ("Mot.A", "Batt.V", "Temp.C")) if m] == [
        "current", "voltage", "temperature",
    ]  # fmt: skip


def test_packs_side_by_side_are_no_cells() -> None:
    i = np.clip(AMPS, 0, None)
    with pytest.raises(InputError, match="each the whole pack"):
        look("time_s,Pack 1 V,Pack 2 V,Total A", T, VOLTS, VOLTS, i)


@pytest.mark.parametrize("failed", [-32768, 32767, -9999])
def test_three_failed_readings_in_a_row_are_left_out(failed) -> None:
    i = np.clip(AMPS, 0, None)
    at = np.isin(np.arange(len(T)) % 100, (50, 51, 52))
    e = look("time_s,amps,volts", T, np.where(at, failed, i), VOLTS)
    assert len(e.log.arrays["time_s"]) == len(T) - at.sum()
    assert any(f"of {abs(failed)} A, far beyond all others" in n for n in e.log.notes)


@pytest.mark.parametrize("step", [100, 10, 1000])
def test_watts_tell_that_amps_and_volts_are_counts(step) -> None:
    i = np.clip(AMPS, 0, None)
    e = look("time_s,Voltage,Current,Power", T, np.round(step * VOLTS), np.round(step * i), i * VOLTS)
    assert float(np.median(e.log.arrays["voltage_v"])) == pytest.approx(float(np.median(VOLTS)), rel=0.01)
    assert drawn(e) == OUT_AH


def test_remarks_between_readings_may_hold_numbers() -> None:
    rows = [f"{t:g};{i:.2f};{v:.2f}" for t, i, v in zip(T, np.clip(AMPS, 0, None), VOLTS, strict=True)]
    rows[930:930] = ["-- step 2 begins --"]
    e = examine_bytes([("mow.csv", "\n".join(["time_s;amps;volts", *rows]).encode())])
    assert drawn(e) == OUT_AH


def test_units_may_stand_in_a_line_above_the_titles() -> None:
    e = look("TIME,CH1,CH2", T, VOLTS, AMPS, above="Source,CH1,CH2\nVertical Units,V,A\nScale,1,1\n\n")
    assert drawn(e) == OUT_AH


def test_letters_of_a_mode_are_no_units() -> None:
    """P stands for a pause here, and for power elsewhere."""
    e = look("time_s,U,I,Modus", T, VOLTS, AMPS, ["PEL"[int(way)] for way in WAY])
    assert drawn(e) == OUT_AH and len(e.log.arrays["time_s"]) > 1000


def test_a_flag_may_bear_the_name_of_a_counter() -> None:
    still = 52 - np.arange(len(T)) * 1e-5
    e = look(
        "time_s,mV,mA,charge",
        T,
        1000 * still,
        np.abs(1000 * AMPS),
        ["true" if w < 0 else "false" for w in WAY],
    )
    assert drawn(e) == OUT_AH


def test_the_battery_s_amps_come_before_the_load_s() -> None:
    e = look("time_s,batt_v,load_i,batt_i", T, VOLTS, AMPS + 3, AMPS)
    assert drawn(e) == OUT_AH


def test_lines_that_differ_in_digits_are_tried_as_titles_a_few_times_only(monkeypatch) -> None:
    tried: list[int] = []
    monkeypatch.setattr(search, "may_be_titles", lambda cells: bool(tried.append(1)))
    lines = [f"I ({k}) meter: bus={k} V" for k in range(1000)]
    assert search._titled(lines, ",", {}) is None
    assert len(tried) == 3


@pytest.mark.parametrize("pack", ["gzip", "zip"])
def test_what_unpacks_to_far_more_than_a_log_is_refused_before_it_fills_the_memory(pack, monkeypatch) -> None:
    monkeypatch.setattr(decode, "_PACKED_BYTES", 10_000)
    content, held = b"0" * 1_000_000, io.BytesIO()
    if pack == "zip":
        with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("mow.csv", content)
    with pytest.raises(InputError, match=r"holds more than 0\.2\d* MB"):
        decode.unpack(held.getvalue() or gzip.compress(content))


def test_bytes_that_are_no_text_are_refused_at_once() -> None:
    noise = np.random.default_rng(3).integers(0, 256, 20_000, dtype=np.uint8).tobytes()
    with pytest.raises(InputError, match="is not text"):
        examine_bytes([("mow.csv", noise.replace(b"\x00", b" "))])


def test_a_page_of_thousands_of_columns_takes_no_time() -> None:
    """Each column was looked for among all others: 20,000 took seven seconds."""
    began = time.perf_counter()
    assert from_print(["t  " * 20_000, *["1  " * 20_000] * 8]) == []
    assert time.perf_counter() - began < 2
    assert len(from_print(["t  " * 400, *["1  " * 400] * 8])[0]) == 400


def test_words_known_for_one_way_only_leave_the_other_to_the_volts() -> None:
    """Where nobody knows what the other word means, amps under it do not go the known way."""
    e = look(
        "time_s,amps,volts,Phase", T, np.abs(AMPS), VOLTS, [["idle", "lap", "charge"][int(w)] for w in WAY]
    )
    assert drawn(e) == OUT_AH


def test_amps_that_change_from_reading_to_reading_are_no_charger_s() -> None:
    uneven = np.where(WAY < 0, -4 - np.sign(np.sin(2 * T)), AMPS)
    e = look("time_s,amps,volts", T, np.abs(uneven), 52 - 0.8 * Q - 0.1 * uneven)
    assert float(e.log.arrays["current_a"].min()) > -0.1


@pytest.mark.parametrize(
    ("title", "words"),
    [
        ("Charging", lambda k: int(k > 500)), ("State", lambda k: ("out", "in")[k % 2]),
        ("Charge", lambda k: "yes" if k < 600 else "no"), ("Status", lambda k: "charged"),
    ],
)  # fmt: skip
def test_words_that_the_sag_belies_are_not_believed(title, words) -> None:
    i = np.clip(AMPS, 0, None) + 1
    e = look(f"time_s,amps,volts,{title}", T, i, 52 - T / 4000 - 0.1 * i, [words(k) for k in range(len(T))])
    assert float(e.log.arrays["current_a"].min()) > 0.9
    assert not any(repr(title) in n for n in e.log.notes)


def test_amps_in_that_hardly_flow_are_taken_off_all_the_same() -> None:
    i, into = np.clip(AMPS, 0, None), np.where(np.arange(len(T)) % 90 == 0, 0.1, 0.0)
    assert drawn(look("time_s,Volts,Current out,Current in", T, VOLTS, i, into)) == OUT_AH


def test_amps_of_the_pack_that_are_those_of_a_discharge_turned_need_no_choice() -> None:
    i = np.clip(AMPS, 0, None)
    titles = "time_s,charge current,discharge current,pack voltage,pack current"
    assert drawn(look(titles, T, 0 * i, i, 52 - 0.1 * i, -i)) == OUT_AH


def test_amps_of_another_battery_are_no_names_that_take_turns() -> None:
    i, aux = np.clip(AMPS, 0, None), [0.8 + 0.1 * (k % 4) for k in range(len(T))]
    e = look("time_s,Aux battery (A),Main battery (A),Main battery (V)", T, aux, i, 52 - 0.1 * i)
    assert drawn(e) == OUT_AH


def test_mean_amps_come_before_effective_ones() -> None:
    assert drawn(look("time_s,i_rms,i_dc,v_dc", T, 1.15 * AMPS, AMPS, VOLTS)) == OUT_AH
