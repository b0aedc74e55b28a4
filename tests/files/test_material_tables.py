"""The generic tables: consistent with each other, with published values, and each number with its source."""

import pytest

from layup.chemistry.fabric import OZ_PER_FT2_G_M2
from layup.files.steps import CLOTH_FORMS, FABRICS, FIBRES, SURFACES

TABLES = [FIBRES, CLOTH_FORMS, FABRICS, SURFACES]


@pytest.mark.parametrize("table", TABLES)
def test_every_entry_states_its_source_and_is_found_by_its_name(table):
    for name, entry in table.items():
        assert entry.name == name
        assert entry.source


@pytest.mark.parametrize(
    ("fibre", "low", "high"),
    # Jang, Advanced Polymer Composites, ASM 1994; basalt and flax from memory, as bands
    [
        ("E-glass", 2.54, 2.60),
        ("S-glass", 2.46, 2.50),
        ("carbon", 1.76, 1.80),
        ("aramid", 1.44, 1.45),
        ("basalt", 2.60, 2.75),
        ("flax", 1.40, 1.50),
    ],
)
def test_fibre_densities_are_the_published_ones(fibre, low, high):
    entry = FIBRES[fibre]
    assert low <= entry.density_g_cm3 <= high
    assert entry.low_g_cm3 <= entry.density_g_cm3 <= entry.high_g_cm3


def test_every_fabric_is_made_of_a_known_fibre_in_a_known_form():
    assert {fabric.fibre for fabric in FABRICS.values()} <= set(FIBRES)
    assert {fabric.form for fabric in FABRICS.values()} <= set(CLOTH_FORMS)


@pytest.mark.parametrize(
    ("style", "from_weave_g_m2"),
    # weave of D578 yarns, computed without crimp: IPC-4412 masses (from memory) lie 0 to 5 % above
    [("106", 24.3), ("2113", 76.4), ("1652", 135.4)],
)
def test_styles_weigh_what_their_weave_makes_of_them_and_a_little_more(style, from_weave_g_m2):
    assert 1.0 <= FABRICS[f"glass style {style}"].areal_weight_g_m2 / from_weave_g_m2 <= 1.05


@pytest.mark.parametrize(("name", "ounces"), [("glass mat 1 oz", 1.0), ("glass mat 1.5 oz", 1.5)])
def test_mat_is_labelled_by_the_square_foot(name, ounces):
    assert FABRICS[name].areal_weight_g_m2 == pytest.approx(ounces * OZ_PER_FT2_G_M2, rel=1e-4)


@pytest.mark.parametrize("form", CLOTH_FORMS.values(), ids=lambda form: form.name)
def test_usual_fibre_fractions_lie_in_the_published_bands(form):
    # university lecture notes: mat 0.15-0.25, woven 0.40-0.55, stitched about 0.6, unidirectional 0.60-0.70
    bands = {"mat": (0.15, 0.25), "woven": (0.40, 0.55), "stitched": (0.45, 0.60), "unidirectional": (0.60, 0.70)}
    assert (form.usual_low, form.usual_high) == bands[form.name]


@pytest.mark.parametrize("surface", SURFACES.values(), ids=lambda surface: surface.name)
def test_a_face_drinks_within_its_band_and_less_once_sealed(surface):
    assert 0 < surface.low_g_m2 <= surface.uptake_g_m2 <= surface.high_g_m2
    assert surface.presealed_g_m2 is None or surface.presealed_g_m2 < surface.low_g_m2


def test_bare_wood_drinks_as_the_trade_says():
    # common practice, no source: 80-150 g/m^2, light woods and end grain 150-250
    assert all(80 <= SURFACES[f"{wood} core face"].uptake_g_m2 <= 150 for wood in ("ash", "poplar"))
    assert all(150 <= SURFACES[name].uptake_g_m2 <= 250 for name in ("paulownia core face", "end grain"))
