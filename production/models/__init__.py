"""Rows and constraints only; what may be done with them stands in production.services."""

from production.models.catalogue import Addition, Formula, Ingredient, Offer, Outlet, Product, Solid, Supplier
from production.models.jobs import Job
from production.models.kitchen import (
    Container,
    CoolingDevice,
    CubeTray,
    HeatSource,
    HeatSupply,
    IceMachine,
    Kitchen,
    Outage,
    OwnParameter,
    Person,
    Pot,
    PotFormula,
    Store,
)
from production.models.people import Membership
from production.models.plans import Document, Plan, PlanAsk, PlanFixes
from production.models.weeks import (
    IceDelivery,
    IngredientStock,
    OrderLine,
    ParLevel,
    PlanningWeek,
    SavedBones,
    Shift,
    StockLot,
)

__all__ = [
    "Addition",
    "Container",
    "CoolingDevice",
    "CubeTray",
    "Document",
    "Formula",
    "HeatSource",
    "HeatSupply",
    "IceDelivery",
    "IceMachine",
    "Ingredient",
    "IngredientStock",
    "Job",
    "Kitchen",
    "Membership",
    "Offer",
    "OrderLine",
    "Outage",
    "Outlet",
    "OwnParameter",
    "ParLevel",
    "Person",
    "Plan",
    "PlanAsk",
    "PlanFixes",
    "PlanningWeek",
    "Pot",
    "PotFormula",
    "Product",
    "SavedBones",
    "Shift",
    "Solid",
    "StockLot",
    "Store",
    "Supplier",
]
