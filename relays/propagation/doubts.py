"""Where a computed loss is to be read as a best case, said in a sentence."""

from __future__ import annotations

from relays.propagation.p1812.result import Prediction

#: By how much the scatter term must improve a path before a person is told. Our own choice.
SCATTER_DECIDES_DB = 3.0


def doubts(prediction: Prediction) -> tuple[str, ...]:
    """Sentences for a user; none when nothing is known against the result.

    Recommendation ITU-R P.1812-8 combines tropospheric scatter with everything else on every path. Between
    low antennas a few kilometres apart its scatter loss can be far below what diffraction and the two-ray
    formula over flat ground give; docs/propagation.md has figures.
    """
    with_db, without_db = prediction.median_place_loss_db, prediction.without_scatter_loss_db
    if without_db - with_db <= SCATTER_DECIDES_DB:
        return ()
    sentence = (
        f"Scatter in the air decides this path: {with_db:.0f} dB, against {without_db:.0f} dB without it. "
        "Between low antennas a short way apart take the result as the best case."
    )
    return (sentence,)
