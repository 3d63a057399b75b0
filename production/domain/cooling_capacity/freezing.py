"""How long a product takes in a freezer."""

from __future__ import annotations

from production.domain.errors import OutOfRange
from production.domain.kitchen import Container, Product, Store
from production.domain.parameters import ParameterSet
from production.domain.thermal.storage import (
    freeze_cube_time_h,
    freeze_load_kj_kg,
    freeze_power_time_h,
    freeze_slab_time_h,
    freezing_heat_kj_kg,
)

FREEZER_FILM_W_M2_K = 10.0  # moving air in a walk-in freezer, from memory
FREEZE_TO_C = -18.0  # common practice, no source


def freeze_minutes(
    *,
    parameters: ParameterSet,
    product: Product,
    container: Container,
    store: Store,
    mass_kg: float,
    solids_percent: float,
    cell_edge_mm: float | None,
) -> float:
    """Time from the final cooling limit until a frozen product is through, on the slow side.

    Equation: the longer of Plank's time x its factor (cubes one layer of trays, packs as a slab of their smallest
        side) and load / spare power of the freezer.
    Units: product, container, store (records), parameters (record); mass_kg [kg], solids_percent [%],
        cell_edge_mm [mm] of a cube or none; returns [min].
    Valid: freezers colder than the freezing point; packs up to 500 mm.
    Errors: OutOfRange when the freezer is too warm.
    Source: Plank's equation and Chen 1985, both from memory; factor is common practice, no source.
    """
    protein = solids_percent / 100.0
    water = 1.0 - protein
    freezing_c = -0.5 if solids_percent < 10.0 else -4.0  # stock and glaze, class C, common practice, no source
    heat = freezing_heat_kj_kg(water_share=water, protein_share=protein)
    common = {
        "density_kg_m3": 1000.0,
        "heat_kj_kg": heat,
        "freezing_c": freezing_c,
        "air_c": store.air_temp_c,
        "film_w_m2_k": FREEZER_FILM_W_M2_K,
    }
    if product.kind == "cubes" and cell_edge_mm is not None:
        through_h = freeze_cube_time_h(size_mm=cell_edge_mm, **common)
    else:
        smallest = min(container.length_mm, container.width_mm, container.height_mm)
        through_h = freeze_slab_time_h(size_mm=smallest, **common)
    through_h *= parameters.high("storage.freeze_time_factor")
    load = freeze_load_kj_kg(
        from_c=5.0, to_c=FREEZE_TO_C, water_share=water, protein_share=protein, freezing_c=freezing_c
    )
    if store.spare_kw <= 0.0:
        raise OutOfRange(
            f"{store.name} has no spare power to freeze anything.",
            code="no-freezing-power",
            numbers={"spare_kw": store.spare_kw},
            remedy="Enter the freezer's spare power.",
        )
    return 60.0 * max(through_h, freeze_power_time_h(mass_kg=mass_kg, load_kj_kg=load, power_kw=store.spare_kw))
