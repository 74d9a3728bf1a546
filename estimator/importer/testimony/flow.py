"""Which way charge flows, by the words, counters and gauges in other columns."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np

from estimator.importer.arrays import Floats, agreement, carried, filled
from estimator.importer.table import quantities as q
from estimator.importer.table.quantities import plain
from estimator.importer.testimony.heard import Heard, Witness

_PHASE = r"(?:cc|cv|cp|cr|cccv|cc-cv|dc)?[ _-]*"
_OUT = re.compile(
    _PHASE + r"(?:d|dis|disch|dch|dchg|dchrg|dcg|dsg|dsch)|.*discharg.*|.*dchr?g.*|.*dchar.*|"
    r".*entlad.*|.*decharg.*|.*descarg.*|.*ontlad.*|.*scaric.*|out(?:put|flow)?|.*放[电電].*"
)
_IN = re.compile(
    _PHASE + r"(?:c|ch|cha|chg|chrg|chrge)|.*charg.*|.*chr?g\b.*|.*laden.*|.*ladung.*|.*carga.*|"
    r".*\bcaric.*|in(?:put|flow)?|.*充[电電].*"
)
_LEFT = re.compile(r"remain|residu|\brest|verbl|left\b|剩余|残", re.IGNORECASE)
_SURELY_IN = re.compile(r"charged|chg|charge_?\s?cap|geladen|charging", re.IGNORECASE)
_FLAG = re.compile(r"(?:is |battery )?(dis)?charg(?:e|ing)(?: flag| state)?")
_YES, _NO = ("1", "true", "yes", "on", "y", "ja", "oui"), ("0", "false", "no", "off", "n", "nein", "non")
_REST = re.compile(
    r"|r|p|s|o|i|rest.*|pau.*|pause.*|ocv.*|idle.*|stop.*|wait.*|ruhe.*|end|off|standby|suspend.*|open.*|none|-|ok|"
    r"finish.*|balance.*|relax.*"
)


_SAGS = -0.5
"""Below this correlation the steps of volts go against those of amps, as in discharge (common practice)."""


@dataclass(frozen=True)
class Flow:
    """Which way the amps of a table count.

    factor : (n,) makes discharge positive when multiplied with the amps; said : the sentence about it
    """

    factor: Floats
    said: str


def flow_of(heard: Heard, current: Witness) -> Flow | None:
    """Which way amps count by states, counters or a gauge; None where no witness says so clearly."""
    amps = np.where(np.isfinite(current.values), current.values, 0.0)
    flows = np.abs(amps) > 0.02 * float(np.percentile(np.abs(amps), 98))
    if not flows.any():
        return None
    unsigned = len(np.unique(np.sign(amps[flows]))) < 2
    for title, told in _ways(heard):
        unknown = float(np.isnan(told[flows]).mean())
        if unknown > 0.3:
            continue  # what is said where nothing flows is a word for rest
        way = np.nan_to_num(told)
        known = flows & (way != 0)
        if np.count_nonzero(known) < max(2, 0.02 * np.count_nonzero(flows)):
            continue
        same = float(np.average(np.sign(amps[known]) * way[known], weights=np.abs(amps[known])))
        if unsigned and unknown > 0.1 and np.unique(way[known]).size < 2:
            continue  # a word that is not known may be for the other way
        both = bool((way[known] > 0).any() and (way[known] < 0).any())
        flow = None
        if unsigned and both:
            signed = carried(np.where(flows, way, 0.0)) * np.sign(amps[flows].sum())
            flow = Flow(signed, f"Amps have no sign: {title!r} says which way they flow.")
        elif abs(same) > 0.75:
            counts = "discharge" if same > 0 else "charging"
            flow = Flow(np.full(len(amps), np.sign(same)), f"{title!r} says that {counts} counts positive.")
        if flow is not None and not _belied(flow, amps, heard):
            return flow
    return None


def _belied(flow: Flow, amps: Floats, heard: Heard) -> bool:
    """Whether volts sag under the amps as they stand, and no longer where their signs are changed."""
    volts = next((filled(w.values) for w in heard.of(q.VOLTAGE)), None)
    if volts is None:
        return False
    dv = np.diff(volts)
    before, after = (agreement(np.diff(x), dv) for x in (amps, amps * flow.factor))
    return before < _SAGS and after > before + 0.2


def both_ways(heard: Heard) -> Heard:
    """The columns with one of amps that count discharge positive, where out and in have a column each.

    They have if their titles say so and only one of them flows at a time; its place is that of the amps out.
    """
    amps = heard.of(q.CURRENT)
    out, into = ([w for w in amps if w.meaning.way == way] for way in (1, -1))
    if len(out) != 1 or len(into) != 1:
        return heard
    a, b = (np.abs(np.nan_to_num(w.values)) * (w.scale or 1.0) for w in (out[0], into[0]))
    flows = [x > 0.02 * float(np.maximum(a, b).max()) for x in (a, b)]
    if np.count_nonzero(flows[0] & flows[1]) > 0.01 * min(map(np.count_nonzero, flows)):
        return heard
    net = replace(
        out[0], values=(a - b) / (out[0].scale or 1.0), title=f"{out[0].title} less {into[0].title}"
    )
    others = tuple(w for w in heard.witnesses if w.index not in (out[0].index, into[0].index))
    return replace(heard, witnesses=(net, *others))


def _ways(heard: Heard) -> list[tuple[str, Floats]]:
    """The title of each witness, and what it says of every row (n,): 1 discharge, -1 charging, 0 nothing."""
    found = []
    for title, words in heard.states:
        way = _by_flag(plain(title), words) if set(words) <= {*_YES, *_NO, ""} else _by_words(words)
        if way is not None:
            found.append((title, way))
    for quantity in (q.CHARGE, q.ENERGY):
        counters = [w for w in heard.of(quantity) if w.meaning.way and not _LEFT.search(w.title)]
        if any(w.meaning.way > 0 for w in counters) or any(_SURELY_IN.search(w.title) for w in counters):
            net = np.zeros(len(heard.rows))
            for w in counters:  # what each has counted up to each reading, without restarts
                rises = np.maximum(np.diff(np.abs(filled(w.values))), 0.0)
                net += w.meaning.way * np.concatenate(([0.0], np.cumsum(rises)))
            if np.any(net):
                found.append((" and ".join(w.title for w in counters[:2]), _nearest_change(net)))
    left = [w for quantity in (q.CHARGE, q.ENERGY) for w in heard.of(quantity) if _LEFT.search(w.title)]
    found += [(w.title, -_nearest_change(filled(w.values))) for w in (*heard.of(q.GAUGE), *left)]
    return found


def _by_words(words: np.ndarray[tuple[int], np.dtype[np.object_]]) -> Floats | None:
    ways: dict[str, float | None] = {}
    for word in set(words.tolist()):
        ways[word] = 1.0 if _OUT.fullmatch(word) else -1.0 if _IN.fullmatch(word) else 0.0
        if ways[word] == 0.0 and not _REST.fullmatch(word):
            ways[word] = None
    told = [w for w in ways.values() if w is not None]
    if not any(told):
        return None
    return np.array([ways[w] if ways[w] is not None else np.nan for w in words.tolist()], dtype=np.float64)


def _by_flag(title: str, words: np.ndarray[tuple[int], np.dtype[np.object_]]) -> Floats | None:
    """The ways (n,) where a column such as "Charging" holds yes and no; None where it does not change."""
    flag, told = _FLAG.fullmatch(title), set(words.tolist())
    if flag is None or not told & {*_YES} or not told & {*_NO}:
        return None
    yes = 1.0 if flag.group(1) else -1.0
    return np.array([yes if w in _YES else -yes if w in _NO else 0.0 for w in words.tolist()])


def _nearest_change(counted: Floats) -> Floats:
    """The sign of the change nearest to each reading (n,); of two equally near ones, of the earlier."""
    step = np.diff(counted)
    moved = np.flatnonzero(step)
    if not moved.size:
        return np.zeros(len(counted))
    at = np.arange(len(counted))
    k = np.searchsorted(moved, at)
    on, back = np.minimum(k, moved.size - 1), np.maximum(k - 1, 0)
    nearer = (k > 0) & ((k == moved.size) | (at - moved[back] - 1 <= moved[on] - at))
    return np.asarray(np.sign(step[moved[np.where(nearer, back, on)]]))
