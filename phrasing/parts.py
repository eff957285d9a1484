"""Parts of a performance moved, cut and joined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from phrasing.performance import Curve, Part
from phrasing.tempo import Bools


def moved(part: Part, ticks: int) -> Part:
    """The part, ``ticks`` later (or earlier, below 0)."""
    curves = tuple(replace(curve, ticks=curve.ticks + ticks) for curve in part.curves)
    return replace(part, onset=part.onset + ticks, release=part.release + ticks, curves=curves)


def of_notes(part: Part, notes: ArrayLike) -> Part:
    """Those notes of the part that come from these notes of the melody (indices)."""
    kept = np.isin(part.source, np.asarray(notes))
    if not kept.any():
        return _rows(part, kept, ())
    first, last = int(part.onset[kept].min()), int(part.release[kept].max())
    curves = []
    for curve in part.curves:
        inside = (curve.ticks >= first) & (curve.ticks <= last)
        if inside.any():
            curves.append(Curve(curve.kind, curve.ticks[inside], curve.values[inside]))
    return _rows(part, kept, tuple(curves))


def _rows(part: Part, kept: Bools, curves: tuple[Curve, ...]) -> Part:
    return replace(
        part,
        onset=part.onset[kept],
        release=part.release[kept],
        pitch=part.pitch[kept],
        velocity=part.velocity[kept],
        level=part.level[kept],
        brightness=part.brightness[kept],
        source=part.source[kept],
        curves=curves,
    )


def joined(parts: Sequence[Part]) -> Part:
    """Parts of one player one after the other as a single part, in order of onset."""
    order = np.argsort(np.concatenate([part.onset for part in parts]), kind="stable")
    curves = []
    for kind in ("expression", "bend"):
        same = [curve for part in parts for curve in part.curves if curve.kind == kind]
        if same:
            ticks = np.concatenate([curve.ticks for curve in same])
            by_tick = np.argsort(ticks, kind="stable")
            values = np.concatenate([curve.values for curve in same])
            curves.append(Curve(same[0].kind, ticks[by_tick], values[by_tick]))
    return replace(
        parts[0],
        onset=np.concatenate([part.onset for part in parts])[order],
        release=np.concatenate([part.release for part in parts])[order],
        pitch=np.concatenate([part.pitch for part in parts])[order],
        velocity=np.concatenate([part.velocity for part in parts])[order],
        level=np.concatenate([part.level for part in parts])[order],
        brightness=np.concatenate([part.brightness for part in parts])[order],
        source=np.concatenate([part.source for part in parts])[order],
        curves=tuple(curves),
    )
