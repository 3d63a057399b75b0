"""The scheduling problem as a constraint model, and its solutions as schedules."""

from production.domain.schedule.model.build import Model, build_model
from production.domain.schedule.model.reading import schedule_of
from production.domain.schedule.model.shape import Shape, shape_of

__all__ = ["Model", "Shape", "build_model", "schedule_of", "shape_of"]
