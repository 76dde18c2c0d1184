"""Flux linkage of one coil with one whole rotor, as a Fourier series in the rotor's angle."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fieldsim.field.iron.coil_iron import NO_IRON, CoilIron
from fieldsim.field.iron.iron_curve import iron_curve
from fieldsim.field.linkage.curve import added_series, own_flux_m2, widest
from fieldsim.field.linkage.curve_book import CurveBook
from fieldsim.field.linkage.series import sample_series
from fieldsim.field.linkage.track import CoilInRotor, Track, coil_in_rotor, magnets_by_track
from fieldsim.field.linkage.track_curve import TrackCurve
from fieldsim.machine.placed import PlacedCoil, PlacedRotor

__all__ = ["PairLinkage", "curves_of", "pair_linkage", "sample_series"]

Array = NDArray[np.float64]

# Attempts: levels of nodes on iron, and the part of the error allowed for points that stand for it.
_IRON_LEVELS = ((1, 0.5), (1, 0.2), (2, 0.2), (3, 0.2))
_ROUGHEST = 1e-2  # relative error that weak magnets' own curves may have
_SYMMETRY_ZERO = 1e-7  # a swing this small beside its magnets' own flux is zero by symmetry


@dataclass(frozen=True, eq=False)
class PairLinkage:
    """Linkage of a coil with a rotor.

    Parameters
    ----------
    harmonics_Wb
        Complex c_k, k = 0..K; the linkage is c_0 + 2 Re sum c_k exp(i k angle), shape (K + 1,).
    error_Wb
        Estimate of the largest error at any angle.
    swing_Wb
        Peak-to-peak over a turn.
    scale_Wb
        The magnets' own flux through all turns, or their own swings if larger, all added.
    angles
        How many angles a turn the series rests on.
    converged
        Whether the tolerance was reached.
    """

    harmonics_Wb: NDArray[np.complex128] = field(repr=False)
    error_Wb: float
    swing_Wb: float
    scale_Wb: float
    angles: int
    converged: bool

    @property
    def relative_error(self) -> float:
        """Error over peak-to-peak; over the magnets' own flux where symmetry leaves nothing."""
        reference = self.scale_Wb if self.vanishes else self.swing_Wb
        return self.error_Wb / reference if reference else 0.0

    @property
    def vanishes(self) -> bool:
        """Whether symmetry leaves no swing but rounding."""
        return self.swing_Wb < _SYMMETRY_ZERO * self.scale_Wb


def pair_linkage(
    coil: PlacedCoil,
    rotor: PlacedRotor,
    tolerance: float,
    iron: CoilIron = NO_IRON,
    book: CurveBook | None = None,
) -> PairLinkage:
    """Return the linkage of a coil with a rotor.

    Parameters
    ----------
    coil, rotor
        Parts of one machine.
    tolerance
        Largest error asked for, relative to the peak-to-peak of this pair's linkage.
    iron
        Of the machine.
    book
        What is known already of others' curves; their like is not computed again.
    """
    book = CurveBook() if book is None else book
    seen = coil_in_rotor(coil, rotor)
    tracks = list(magnets_by_track(rotor).items())
    asked, rooms = _share_of_each(tracks, tolerance), _rooms(tracks)
    for level, part in _IRON_LEVELS if iron else _IRON_LEVELS[:3]:
        curves = [
            book.curve(track, seen, error)
            for (track, _), error in zip(tracks, _errors(asked, rooms), strict=True)
        ]
        settled = all(curve.converged for curve in curves)
        if iron:
            drawn = iron.seen(coil, rotor, level, part * asked)
            pairs = zip(tracks, curves, strict=True)
            curves = [
                curve.plus(iron_curve(track, drawn, asked * curve.swing_m2, asked))
                for (track, _), curve in pairs
            ]
        pair = _summed(coil.turns, [(t, c, m) for c, (t, m) in zip(curves, tracks, strict=True)])
        if pair.relative_error <= tolerance or pair.vanishes:
            break
        if not settled:
            break  # as good as it gets
        # The magnets partly cancel: their own curves must be that much better.
        asked = max(asked * 0.5 * tolerance / pair.relative_error, 1e-13)
    met = pair.relative_error <= tolerance or pair.vanishes
    return replace(pair, converged=met)


def curves_of(
    coil: PlacedCoil, rotor: PlacedRotor, tolerance: float
) -> list[tuple[Track, CoilInRotor, float]]:
    """Return the curves that `pair_linkage` asks its book for at first, as that takes them.

    Parameters
    ----------
    coil, rotor, tolerance
        As there.
    """
    seen, tracks = coil_in_rotor(coil, rotor), list(magnets_by_track(rotor).items())
    errors = _errors(_share_of_each(tracks, tolerance), _rooms(tracks))
    return [(track, seen, error) for (track, _), error in zip(tracks, errors, strict=True)]


_Tracks = list[tuple[Track, list[tuple[float, float]]]]


def _share_of_each(tracks: _Tracks, tolerance: float) -> float:
    """Return the relative error that each curve may have, one or more tracks together."""
    # The errors of all magnets add up, of their swings hardly more than two.
    strengths = [abs(strength) for _, members in tracks for strength, _ in members]
    return tolerance * min(1.0, 2 * max(strengths, default=0.0) / (sum(strengths) or 1.0))


def _errors(asked: float, rooms: list[float]) -> list[float]:
    """Return the relative error that each track's curve may have, if it has that much room."""
    return [min(asked * room, max(asked, _ROUGHEST)) for room in rooms]


def _rooms(tracks: _Tracks) -> list[float]:
    """Return how many times the usual relative error each track's curve may have, one or more.

    Magnets far weaker than the others add little to the sum, and little to its error.
    """
    weights = [
        own_flux_m2(track) * sum(abs(strength) for strength, _ in members)
        for track, members in tracks
    ]
    fair = sum(weights) / max(len(weights), 1)
    return [max(1.0, fair / weight) for weight in weights]


def _summed(
    turns: float, parts: list[tuple[Track, TrackCurve, list[tuple[float, float]]]]
) -> PairLinkage:
    size = max((len(curve.harmonics_m2) for _, curve, _ in parts), default=1)
    total, doubt = np.zeros(size, dtype=np.complex128), np.zeros(1, dtype=np.complex128)
    error = scale = 0.0
    for track, curve, members in parts:
        k = np.arange(max(len(curve.harmonics_m2), len(curve.doubt_m2)))
        strengths = np.array([s for s, _ in members])
        angles = np.array([a for _, a in members])
        # A magnet at arm angle a on the rotor stands at rotor angle + a.
        all_of_them = strengths @ np.exp(1j * np.outer(angles, k))
        orders, doubted = len(curve.harmonics_m2), len(curve.doubt_m2)
        total[:orders] += curve.harmonics_m2 * all_of_them[:orders]
        doubt = added_series(doubt, curve.doubt_m2 * all_of_them[:doubted])
        error += curve.error_m2 * float(np.abs(strengths).sum())
        own = max(curve.swing_m2, own_flux_m2(track))
        scale += own * float(np.abs(strengths).sum())
    error += float(widest(doubt))
    swing = float(np.ptp(sample_series(total, max(256, 4 * size))))
    return PairLinkage(
        turns * total,
        turns * error,
        turns * swing,
        turns * scale,
        max((curve.angles for _, curve, _ in parts), default=1),
        all(curve.converged for _, curve, _ in parts),
    )
