"""The catalogue of quantities and its cautions."""

import pytest

from strikeline.domain.catalogue import Action, Evidence, Per, Place, Quantity, catalogue_from_toml, the_catalogue
from strikeline.domain.cautions import cautions_from_toml, the_cautions
from strikeline.errors import InputError
from strikeline.measured import Measured
from strikeline.written import read_quantity

QUANTITIES = list(the_catalogue().quantities.values())
ENTRY = """
schema = "strikeline.quantities/1"
[[quantity]]
id = "blow"
gb = "blow distance"
us = "blow"
unit = "mm"
per = "hammer"
method = "Crown to string."
half_width = 0.5
possible = [20, 70]
sampling = ["ends"]
disturbs = []
[[quantity.nominal]]
actions = ["grand"]
value = 45
tolerance = 1
evidence = "reasoning"
source = "this test"
"""


@pytest.mark.parametrize("quantity", QUANTITIES, ids=lambda one: one.id)
def test_every_entry_says_how_to_measure_it_and_where_its_figures_come_from(quantity: Quantity) -> None:
    assert len(quantity.method) > 40
    assert quantity.possible[0] <= min((one.value for one in quantity.nominals), default=quantity.possible[1])
    for nominal in quantity.nominals:
        assert len(nominal.source) > 8
        low, high = nominal.low, nominal.high
        assert (low is None and high is None) or (low is not None and high is not None and low <= nominal.value <= high)
    assert set(quantity.cautions) <= set(the_cautions())


@pytest.mark.parametrize("quantity", QUANTITIES, ids=lambda one: one.id)
def test_every_unit_can_be_written_by_hand(quantity: Quantity) -> None:
    middle = sum(quantity.possible) / 2
    assert read_quantity(f"{middle} {quantity.unit}", name=quantity.id, unit=quantity.unit).value == middle


def test_names_of_both_sides_of_the_ocean_find_the_same_quantity() -> None:
    find = the_catalogue().find
    assert find("set-off") is find("let-off") is find("Escapement distance")
    assert find("wrest pin torque") is find("tuning pin torque")
    with pytest.raises(InputError, match=r"did you mean.*key dip"):
        find("kee dip")


def test_what_disturbs_a_quantity_is_the_other_side_of_what_is_disturbed() -> None:
    catalogue = the_catalogue()
    assert {"key_dip", "blow", "set_off", "lost_motion"} <= set(catalogue.disturbed_by("aftertouch"))
    for one in QUANTITIES:
        assert one.id not in one.disturbs
        assert all(one.id in catalogue.disturbed_by(other) for other in one.disturbs)


def test_a_limit_is_passed_only_where_the_reading_is_sure_of_it() -> None:
    blow = the_catalogue()["blow"].nominal(Action.UPRIGHT_UNDER_DAMPER)
    assert blow is not None
    readings = [Measured(46.5, 0.1), Measured(47.1, 0.3), Measured(47.9, 0.3), Measured(44.0, 0.3), Measured(44.0, 0.0)]
    expected = [Place.WITHIN, Place.CANNOT_TELL, Place.HIGH, Place.LOW, Place.LOW]
    assert [blow.place_of(one) for one in readings] == expected
    assert blow.place_of(Measured(44.0, 0.0), figure=44.5) is Place.WITHIN


def test_a_makers_figure_overrides_the_usual_one_for_its_action_only() -> None:
    catalogue = the_catalogue()
    own = catalogue.with_figures({"blow": 44.0}, action=Action.GRAND, evidence=Evidence.MAKER, source="leaflet")
    grand, upright = own["blow"].nominal(Action.GRAND), own["blow"].nominal(Action.UPRIGHT_UNDER_DAMPER)
    assert grand is not None
    assert grand.value == 44.0
    assert grand.evidence is Evidence.MAKER
    assert upright == catalogue["blow"].nominal(Action.UPRIGHT_UNDER_DAMPER)
    assert catalogue["blow"].nominal(Action.GRAND) != grand
    with pytest.raises(InputError, match=r"blow = 450.*20 to 70 mm"):
        catalogue.with_figures({"blow": 450}, action=Action.GRAND, evidence=Evidence.MAKER, source="leaflet")


@pytest.mark.parametrize(
    ("old", "new", "match"),
    [
        ('unit = "mm"', 'unit = "furlong"', "blow.unit = 'furlong', expected one of mm"),
        ('method = "Crown to string."', "", "blow: the field method is missing"),
        ("half_width = 0.5", "half_width = -1", "blow.half_width = -1, expected a number from 0"),
        ("value = 45", "value = 4500", "value = 4500, expected a number from 20 to 70"),
        ('per = "hammer"', 'per = "hamer"', "blow.per = 'hamer', expected 'key' or 'hammer'"),
        ("disturbs = []", 'disturbs = ["moon"]', "blow.disturbs = .*moon.*ids of the catalogue"),
        ("disturbs = []", "disturb = []", "blow: unknown field disturb; known are"),
        ("possible = [20, 70]", "possible = [70, 20]", "the smaller first"),
        ('schema = "strikeline.quantities/1"', 'schema = "x"', "catalogue.schema = 'x'"),
        ('sampling = ["ends"]', "sampling = [", "no TOML"),
    ],
)
def test_a_mistake_in_the_data_is_named_with_entry_and_field(old: str, new: str, match: str) -> None:
    assert catalogue_from_toml(ENTRY)["blow"].per is Per.HAMMER
    with pytest.raises(InputError, match=match):
        catalogue_from_toml(ENTRY.replace(old, new))


def test_a_name_may_mean_one_thing_only() -> None:
    twice = ENTRY + ENTRY.partition("[[quantity]]")[2].join(["[[quantity]]", ""]).replace('"blow"', '"bow"', 1)
    with pytest.raises(InputError, match="means both"):
        catalogue_from_toml(twice)


def test_every_caution_says_what_to_do_and_who_may_do_it() -> None:
    for caution in the_cautions().values():
        assert caution.do
        assert caution.do_not
        assert caution.who
        assert caution.source
        assert caution.may_happen in caution.paragraph()
    with pytest.raises(InputError, match="x: the field hazard is missing"):
        cautions_from_toml('schema = "strikeline.cautions/1"\n[[caution]]\nid = "x"\n')


@pytest.mark.parametrize(
    ("quantity", "value"),
    [
        # Read in the sources that the entries name, and right there: none of them may be called high or low.
        ("pin_torque", 13.0),  # 115 in-lb, freshly strung (supplier's video: 80 to 120 in-lb new)
        ("pin_diameter", 7.01),  # 1/0 (owner's notes)
        ("hammer_weight", 11.1),  # A0 of a concert grand (Chabassier & Duruflé 2012)
        ("hammer_weight", 4.0),  # treble of classic instruments (technicians' mailing list 1995-07)
        ("strike_weight", 12.4),  # medium at note 1 (technicians' mailing list 1995-07)
        ("strike_weight", 5.8),  # medium at note 88
        ("centre_pin_diameter", 1.22),  # number 19
        ("up_weight", 20.5),  # 20 g or more (action-tool maker's articles)
        ("key_friction", 5.5),  # 3 to 6 g medium (technicians' mailing list 2003-05)
    ],
)
def test_what_a_source_calls_right_is_not_called_out(quantity: str, value: float) -> None:
    one = the_catalogue()[quantity]
    nominal = one.nominal(Action.GRAND)
    assert nominal is not None
    assert nominal.place_of(Measured(value, one.half_width / 1.96)) not in {Place.LOW, Place.HIGH}
