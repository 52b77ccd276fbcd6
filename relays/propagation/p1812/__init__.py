"""Recommendation ITU-R P.1812-8 (09/2025): loss of a terrestrial path from 30 MHz to 6 GHz.

``predict`` is the one way in. Each section of the Recommendation is a module; ``inputs`` holds what it
accepts and ``result`` what it says.
"""

from relays.propagation.p1812.model import predict
from relays.propagation.p1812.result import Prediction
from relays.propagation.p1812.variability import sigma_location_db

__all__ = ["Prediction", "predict", "sigma_location_db"]
