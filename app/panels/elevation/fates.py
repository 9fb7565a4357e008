"""From the proof's account of every layer to what the drawing says of every tooth."""

from __future__ import annotations

from app.panels.elevation.model import Survival
from core.proof.survival import LayerState
from core.proof.survival import Survival as Layers


def fates_of(layers: Layers, *, worst: bool = True) -> tuple[Survival, ...]:
    """What becomes of every tooth of a row, in the order of the plan.

    The worst layer phase counts, unless ``worst`` is False: where layers fall is decided on the printer. A tooth of
    which no layer prints at all will not print; where ledge or edge was not found nothing is said.
    """
    return tuple(_fate(layers, i, worst=worst) for i in range(len(layers.lost)))


def _fate(layers: Layers, i: int, *, worst: bool) -> Survival:
    lost = int(max(layers.lost[i], layers.lost_worst[i] if worst else layers.lost[i]))
    states = layers.state[i]
    own = (states == LayerState.PRINTED) | (states == LayerState.LOST) | (states == LayerState.LOOSE)
    if own.any() and not (states == LayerState.PRINTED).any():
        return Survival("will not print")
    return Survival("lost layers", lost) if lost > 0 else Survival()
