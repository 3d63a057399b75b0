"""Coolings that agree with the readings of one container, and with what is known beforehand."""

from production.domain.records.fitting.draws import Draws, compatible_coolings
from production.domain.records.fitting.surroundings import Place, Surroundings, surroundings_of
from production.domain.records.fitting.thinning import Floats, thinned

__all__ = ["Draws", "Floats", "Place", "Surroundings", "compatible_coolings", "surroundings_of", "thinned"]
