"""Reading and writing places: what is understood, what is refused and why, what comes back."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from broodsweep.geo import NOTATIONS, Place, PlaceError, as_record, corners, distance_m, format_place, locate
from broodsweep.geo import parse_place as parse
from broodsweep.geo.constants import BRITISH_SQUARES_WITH_LAND, IRISH_SQUARES_WITH_LAND
from broodsweep.words import PSEUDO, has_key, render

PLANE = [  # text, notation, epsg, centre easting, centre northing, side
    ("SK 123 456", "british_grid", 27700, 412350, 345650, 100),
    ("SK123456", "british_grid", 27700, 412350, 345650, 100),
    ("sk 1234 5678", "british_grid", 27700, 412345, 356785, 10),
    ("  SK\u00a012345\t67890 ", "british_grid", 27700, 412345.5, 367890.5, 1),
    ("SK 12 34", "british_grid", 27700, 412500, 334500, 1000),
    ("SK14", "british_grid", 27700, 415000, 345000, 10000),
    ("SK 123, 456", "british_grid", 27700, 412350, 345650, 100),
    ("OV0000000000", "british_grid", 27700, 500000.5, 500000.5, 1),
    ("HU 4 1", "british_grid", 27700, 445000, 1115000, 10000),
    ("O 159 346", "irish_grid", 29903, 315950, 234650, 100),
    ("o1590434671", "irish_grid", 29903, 315904.5, 234671.5, 1),
    ("EPSG:27700 651409 313177", "projected", 27700, 651409.5, 313177.5, 1),
    ("epsg 27700 651409,313177", "projected", 27700, 651409.5, 313177.5, 1),
    ("27700:651409,313177", "projected", 27700, 651409.5, 313177.5, 1),
    ("27700:651409.90 313177.2", "projected", 27700, 651409.905, 313177.205, 0.01),
    ("EPSG:2157 715830 734697", "projected", 2157, 715830.5, 734697.5, 1),
    ("ITM 715830 734697", "projected", 2157, 715830.5, 734697.5, 1),
    ("32U 395201 5673135", "utm", 32632, 395201.5, 5673135.5, 1),
    ("UTM zone 32U 395201mE 5673135mN", "utm", 32632, 395201.5, 5673135.5, 1),
    ("32N 395201 5673135", "utm", 32632, 395201.5, 5673135.5, 1),
    ("32 north 395201 5673135", "utm", 32632, 395201.5, 5673135.5, 1),
    ("32 south 395201 5673135", "utm", 32732, 395201.5, 5673135.5, 1),
    ("55S 395201 5673135", "utm", 32755, 395201.5, 5673135.5, 1),  # does not fit band S: the south
    ("32S 395201 3873135", "utm", 32632, 395201.5, 3873135.5, 1),  # fits band S
    ("15TWG0000049776", "mgrs", 32615, 500000.5, 4649776.5, 1),
    ("32U LB 952 731", "mgrs", 32632, 395250, 5673150, 100),
    ("32ulb97", "mgrs", 32632, 395000, 5675000, 10000),
    ("MGRS 55HFU 1 2", "mgrs", 32755, 615000, 5825000, 10000),
]

ANGLES = [  # text, latitude, longitude
    ("52.6576, 1.7179", 52.6576, 1.7179),
    ("52.6576 1.7179", 52.6576, 1.7179),
    ("52.6576N 1.7179E", 52.6576, 1.7179),
    ("N52.6576 E1.7179", 52.6576, 1.7179),
    ("1.7179 e, 52.6576 n", 52.6576, 1.7179),
    ("52.6576 north 1.7179 west", 52.6576, -1.7179),
    ("−37.95 144.42", -37.95, 144.42),
    ("144.42 -37.95", -37.95, 144.42),
    ("52,6576; 1,7179", 52.6576, 1.7179),
    ("52,6576 -1,7179", 52.6576, -1.7179),
    ("52,6576,1,7179", 52.6576, 1.7179),
    ("52,6576, 1,7179", 52.6576, 1.7179),
    ("52°39′27″N 1°43′04.5″E", 52.6575, 1 + 43 / 60 + 4.5 / 3600),
    ("52º39'27''N, 1º43'04,5''W", 52.6575, -(1 + 43 / 60 + 4.5 / 3600)),
    ("52 39 27 N 1 43 4.5 E", 52.6575, 1 + 43 / 60 + 4.5 / 3600),
    ("52d39m27s n 1d43m4.5s e", 52.6575, 1 + 43 / 60 + 4.5 / 3600),
    ("52 deg 39 min 27 sec N 1 deg 43 min 4.5 sec E", 52.6575, 1 + 43 / 60 + 4.5 / 3600),
    ("N 52 39.45 W 1 43.5", 52.6575, -1.725),
    ("52 39.45 1 43.5", 52.6575, 1.725),
    ("52 39 27, 1 43 30", 52.6575, 1.725),
    ("52 39 1 43", 52.65, 1 + 43 / 60),
    ("-0 30.5 -1 30.0", -(0.5 + 0.5 / 60), -1.5),
    ("+52.65-001.71/", 52.65, -1.71),
    ("Latitude: 52.65, longitude: 1.71", 52.65, 1.71),
    ("lon 1.71 lat 52.65", 52.65, 1.71),
    ("EPSG:4326 52.65 1.71", 52.65, 1.71),
    ("geo:52.65,-1.71", 52.65, -1.71),
    ("GEO:52.65,-1.71,30;crs=WGS84;u=25", 52.65, -1.71),
    ("geo:52.65,-1.71?z=15", 52.65, -1.71),
]

BAD = [  # text, key
    (None, "geo.no_place"),
    ("", "geo.no_place"),
    (" \t\u200b\n", "geo.no_place"),
    ("x" * 201, "geo.text_too_long"),
    ("hello", "geo.not_a_place"),
    ("=1+1", "geo.not_a_place"),
    ("🐝", "geo.not_a_place"),
    ("nan nan", "geo.not_a_place"),
    ("1e5 2", "geo.not_a_place"),
    ("\x00", "geo.not_a_place"),
    ("SK", "geo.no_figures"),
    ("32ULB", "geo.no_figures"),
    ("SK 12345", "geo.odd_figures"),
    ("O 123", "geo.odd_figures"),
    ("SK 12 34 56", "geo.unequal_figures"),
    ("SK 12 3456", "geo.unequal_figures"),
    ("SK 123456 789012", "geo.many_figures"),
    ("SK 12A456", "geo.not_figures"),
    ("SK 123.4 567.8", "geo.not_figures"),
    ("SI 123 456", "geo.letter_not_used"),
    ("I 123 456", "geo.letter_not_used"),
    ("ZZ 123 456", "geo.unknown_letters"),
    ("EPSG:99999 1 2", "geo.unknown_epsg"),
    ("EPSG:" + "9" * 150 + " 1 2", "geo.unknown_epsg"),
    ("EPSG:4979 52 1", "geo.epsg_is_no_plane"),
    ("EPSG:27700 651409", "geo.two_numbers_wanted"),
    ("EPSG:27700 east north", "geo.two_numbers_wanted"),
    ("EPSG:27700 -5 10", "geo.outside_grid"),
    ("EPSG:27700 651409 3131770", "geo.outside_grid"),
    ("EPSG:2157 313177 65140", "geo.outside_grid"),
    ("EPSG:32630 " + "9" * 100 + " 1", "geo.outside_area"),
    ("651409 313177", "geo.which_grid"),
    ("61U 395201 5673135", "geo.zone_out_of_range"),
    ("0U 395201 5673135", "geo.zone_out_of_range"),
    ("61ULB 12 34", "geo.zone_out_of_range"),
    ("32I 395201 5673135", "geo.unknown_band"),
    ("32OLB 12 34", "geo.unknown_band"),
    ("32T 395201 5673135", "geo.band_does_not_fit"),
    ("32U 39520 5673135", "geo.easting_out_of_range"),
    ("32U 395201 15673135", "geo.northing_out_of_range"),
    ("32A 395201 5673135", "geo.polar_region"),
    ("ZAB 1234 5678", "geo.polar_region"),
    ("15TAA 12 34", "geo.mgrs_letters"),
    ("15TWY 12 34", "geo.mgrs_letters"),
    ("15TWA 12 34", "geo.mgrs_letters"),
    ("91N 1E", "geo.latitude_out_of_range"),
    ("52N 181E", "geo.longitude_out_of_range"),
    ("100.5 170.5", "geo.latitude_out_of_range"),
    ("52°60'N 1°0'E", "geo.sixty_or_more"),
    ("52°0'60\"N 1°0'E", "geo.sixty_or_more"),
    ("52.5°30'N 1°E", "geo.fraction_inside"),
    ('52°27"N 1°E', "geo.parts_out_of_order"),
    ("-52N 1E", "geo.sign_and_letter"),
    ("52N 1N", "geo.same_axis_twice"),
    ("lon 1 lon 2", "geo.same_axis_twice"),
    ("N E 52 1", "geo.letter_without_number"),
    ("52.5 N, 1.5 E north", "geo.letter_without_number"),
    ("52.6576", "geo.one_coordinate"),
    ("52N", "geo.one_coordinate"),
    ("52.1 1.2 3.4", "geo.too_many_numbers"),
    ("1 2 3 4 5 6 7 8", "geo.too_many_numbers"),
    ("52,65", "geo.comma_in_doubt"),
    ("0.0, 0.0", "geo.zero_zero"),
    ("geo:abc", "geo.bad_uri"),
    ("geo:52", "geo.bad_uri"),
    ("geo:52.1,1.2;=5", "geo.bad_uri"),
    ("geo:0,0?q=somewhere", "geo.bad_uri"),
    ("geo:91,1", "geo.latitude_out_of_range"),
    ("geo:52,1;crs=nad27", "geo.uri_crs"),
    ("geo:52,1;u=wide", "geo.uri_uncertainty"),
    ("geo:52,1;u=-5", "geo.uri_uncertainty"),
]


@pytest.mark.parametrize(("text", "notation", "epsg", "easting", "northing", "side"), PLANE)
def test_plane_notations_name_a_square_by_its_south_west_corner(
    text: str, notation: str, epsg: int, easting: float, northing: float, side: float
) -> None:
    place = parse(text)
    assert (place.notation, place.epsg) == (notation, epsg)
    assert (place.easting, place.northing) == pytest.approx((easting, northing), abs=1e-6)
    assert place.precision_m == pytest.approx(side)


@pytest.mark.parametrize(("text", "latitude", "longitude"), ANGLES)
def test_angles_are_read_in_every_notation(text: str, latitude: float, longitude: float) -> None:
    place = parse(text)
    assert (place.latitude, place.longitude) == pytest.approx((latitude, longitude), abs=1e-9)
    assert place.easting is None
    assert place.epsg == 4326


@pytest.mark.parametrize(("text", "key"), BAD)
def test_bad_text_is_refused_with_the_part_that_is_wrong(text: str | None, key: str) -> None:
    with pytest.raises(PlaceError) as caught:
        parse(text)
    assert caught.value.message.key == key
    sentence = str(caught.value)
    assert len(sentence) < 450
    assert any(letter.isdigit() for letter in sentence)  # a good example stands in it, or the limit


@given(st.text(max_size=60))
@settings(max_examples=500)
def test_any_text_is_a_place_or_a_refusal_in_words(text: str) -> None:
    try:
        place = parse(text)
    except PlaceError as error:
        assert has_key(error.message.key)
        assert render(error.message, PSEUDO)
    else:
        assert -90 <= place.latitude <= 90


@given(st.text(alphabet="0123456789 .,-+NSEWnsewSKUTMO°'\":;geoEPSGlatdm", max_size=30))
@settings(max_examples=1500)
def test_any_text_of_the_right_letters_is_a_place_or_a_refusal(text: str) -> None:
    try:
        place = parse(text)
    except PlaceError as error:
        assert render(error.message)
    else:
        assert -90 <= place.latitude <= 90
        assert -180 <= place.longitude <= 180
        assert place.precision_m > 0


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("52.5 N 1.71234 E", 1.113),  # the finer of the two: spreadsheets drop zeros
        ("52.6 N 1.7 E", 11127.9),
        ("52°39′N 1°43′E", 1854.7),
        ("52°39′27″N 1°43′05″E", 30.9),
        ("52°39′27.5″N 1°43′05″E", 3.09),
        ("geo:52.65,1.71;u=25", 50.0),
        ("geo:52.65000,1.71000;u=0", 1.113),
        ("52.123456789012 N 1 E", 0.001),
    ],
)
def test_degrees_imply_a_precision(text: str, metres: float) -> None:
    assert parse(text).precision_m == pytest.approx(metres, rel=2e-3)


def test_order_of_bare_numbers_is_latitude_first_with_a_note_unless_said_otherwise() -> None:
    assert parse("52.6, 1.7").latitude == 52.6
    assert [note.key for note in parse("52.6, 1.7").notes] == ["geo.note_latitude_first"]
    assert parse("52.6, 1.7", order="latitude_first").notes == ()
    assert parse("52.6, 1.7", order="longitude_first").longitude == 52.6
    assert parse("144.4, -37.9").notes == ()
    assert parse("52.6N, 1.7E", order="longitude_first").latitude == 52.6
    with pytest.raises(PlaceError):
        parse("144.4, -37.9", order="latitude_first")


def test_precision_given_replaces_that_of_degrees_and_can_only_widen_a_square() -> None:
    assert parse("52.123456, 1.123456", precision_m=8).precision_m == 8
    assert parse("SK 123 456", precision_m=500).precision_m == 500
    square = parse("SK 123 456", precision_m=8)
    assert square.precision_m == 100
    assert [note.key for note in square.notes] == ["geo.note_square_stays"]
    for bad in (0.0, -5.0, float("nan"), float("inf"), 2e6):
        with pytest.raises(PlaceError) as caught:
            parse("52.1, 1.1", precision_m=bad)
        assert caught.value.message.key == "geo.bad_precision"


def test_band_s_is_said_in_a_note() -> None:
    assert [note.key for note in parse("32S 395201 3873135").notes] == ["geo.note_band_s"]


def test_geographic_codes_of_another_datum_are_shifted() -> None:
    # EPSG:4277 is OSGB36: the point of check 103, 1 m from its National Grid coordinates
    place = parse("EPSG:4277 52°39′27.2531″N 1°43′4.5177″E")
    grid = parse("EPSG:27700 651409.903 313177.270")
    assert place.datum_shift == grid.datum_shift != ""
    assert distance_m(*place.centre, *grid.centre) < 0.01
    assert place.datum_accuracy_m == grid.datum_accuracy_m


def test_grid_in_feet_has_its_precision_in_metres() -> None:
    assert parse("EPSG:2263 1000000 200000").precision_m == pytest.approx(0.3048, abs=1e-6)


def test_record_has_the_keys_of_the_design_and_is_json() -> None:
    record = as_record(locate("SK 123 456"))
    assert json.loads(json.dumps(record)) == record
    assert record["precision_m"] == 100
    assert (record["easting"], record["northing"], record["epsg"]) == (412350, 345650, 27700)
    assert record["datum_shift"]
    assert record["precision_with_datum_m"] == 100 + 2 * record["datum_accuracy_m"]


@pytest.mark.parametrize(
    ("text", "epsg"),
    [
        ("52.6576 N 1.7179 E", 27700),
        ("50.1 N 5.5 W", 27700),
        ("60.8 N 0.8 W", 27700),
        ("54.2 N 4.5 W", 27700),  # Isle of Man
        ("55.4 N 5.6 W", 27700),  # Kintyre
        ("55.8 N 6.2 W", 27700),  # Islay
        ("53.35 N 6.26 W", 2157),
        ("54.6 N 5.5 W", 2157),
        ("49.2138 N 2.1358 W", 32630),  # Jersey
        ("50.95 N 1.85 E", 32631),  # France
        ("37.95 S 144.42 E", 32755),
        ("60.4 N 5.3 E", 32632),  # western Norway is in zone 32
        ("78.2 N 15.6 E", 32633),  # Svalbard
        ("5.0 N 180.0 E", 32660),
    ],
)
def test_record_of_degrees_has_the_usual_grid_of_the_country(text: str, epsg: int) -> None:
    record = as_record(parse(text))
    assert record["epsg"] == epsg
    assert record["grid_accuracy_m"] is not None


def test_record_in_a_polar_region_has_no_plane_coordinates() -> None:
    record = as_record(parse("85.5 N 10.5 E"))
    assert record["easting"] is None
    assert record["grid_accuracy_m"] is None


def test_references_are_cut_off_and_never_rounded() -> None:
    place = parse("SK 12399 45699")
    assert format_place(place, figures=6) == "SK 123 456"
    assert format_place(place, figures=4) == "SK 12 45"
    assert format_place(place, figures=2) == "SK 1 4"
    assert format_place(parse("32ULB9999973999"), "mgrs", figures=4) == "32ULB9973"


def test_default_figures_never_say_more_than_is_known() -> None:
    assert (
        format_place(parse("52.6576 N 1.7179 E"), "british_grid") == "TG 515 131"
    )  # 11 m: a square of 100 m
    assert format_place(parse("SK 123 456", precision_m=101)) == "SK 12 45"


def test_seconds_that_round_up_carry_into_minutes_and_degrees() -> None:
    place = Place(longitude=-0.99999999, latitude=51.99999999, precision_m=40)
    assert format_place(place, "sexagesimal") == "52°00′00″N 1°00′00″W"


def test_writing_refuses_what_the_notation_cannot_say() -> None:
    place = parse("37.95 S 144.42 E")
    for notation in ("british_grid", "irish_grid"):
        with pytest.raises(PlaceError):
            format_place(place, notation)
    with pytest.raises(PlaceError):
        format_place(parse("85.5 N 10.5 E"), "mgrs")
    with pytest.raises(ValueError, match="one of british_grid"):
        format_place(place, "shorthand")
    for figures in (3, 0, 12, -2):
        with pytest.raises(ValueError, match="figures"):
            format_place(place, "mgrs", figures=figures)


def grid_text(square: str, half: int, e: int, n: int) -> str:
    cut = 10 ** (5 - half)
    return f"{square} {e // cut:0{half}d} {n // cut:0{half}d}"


DIGITS = st.integers(0, 99999)


@given(
    st.sampled_from(sorted(BRITISH_SQUARES_WITH_LAND | IRISH_SQUARES_WITH_LAND)),
    st.integers(1, 5),
    DIGITS,
    DIGITS,
)
def test_grid_references_come_back_as_they_were(square: str, half: int, e: int, n: int) -> None:
    text = grid_text(square, half, e, n)
    assert format_place(parse(text)) == text
    assert parse(text).precision_m == 10 ** (5 - half)


@given(
    st.floats(-179.99, 179.99),
    st.floats(-79.9, 83.9),
    st.sampled_from([1.0, 10.0, 100.0, 1000.0]),
    st.sampled_from(["utm", "mgrs", "latitude_longitude", "sexagesimal", "geo_uri", "projected"]),
)
@settings(max_examples=400)
def test_what_is_written_is_read_back_within_the_precision(
    longitude: float, latitude: float, precision_m: float, notation: str
) -> None:
    assume(abs(latitude) > 1e-3 or abs(longitude) > 1e-3)
    place = Place(longitude=longitude, latitude=latitude, precision_m=precision_m)
    again = parse(format_place(place, notation))
    if again.is_on_grid:  # the square that is written holds the centre
        inside = Place(**{**vars(again), "precision_m": again.precision_m + 0.01})
        east, north = _on(inside.epsg, longitude, latitude)
        assert abs(east - again.easting) <= again.precision_m / 2 + 1e-3
        assert abs(north - again.northing) <= again.precision_m / 2 + 1e-3
    else:
        assert distance_m(*place.centre, *again.centre) <= precision_m
    if notation in ("mgrs", "geo_uri"):
        assert again.precision_m >= precision_m * (1 - 1e-9)


def _on(epsg: int, longitude: float, latitude: float) -> tuple[float, float]:
    from broodsweep.geo.datum import datum

    return datum(epsg).from_wgs84(longitude, latitude)


@given(st.floats(-5, 1.5), st.floats(51, 58), st.sampled_from(NOTATIONS))
def test_places_in_britain_come_back_from_every_notation(
    longitude: float, latitude: float, notation: str
) -> None:
    place = Place(longitude=longitude, latitude=latitude, precision_m=10.0)
    try:
        text = format_place(place, notation)
    except PlaceError:
        assert notation == "irish_grid"
        return
    again = parse(text)
    assert distance_m(*place.centre, *again.centre) <= 10.0


def test_corners_of_a_square_are_sides_apart() -> None:
    place = parse("TG 514 131")
    ring = corners(place)
    assert len(ring) == 4
    for (lon1, lat1), (lon2, lat2) in zip(ring, (*ring[1:], ring[0]), strict=True):
        # the National Grid's scale here is within 0.04 % of one
        assert distance_m(lon1, lat1, lon2, lat2) == pytest.approx(100.0, rel=1e-3)
    assert ring[0][0] < ring[1][0]
    assert ring[0][1] < ring[3][1]


def test_threads_read_the_same_places() -> None:
    texts = [
        "SK 123 456",
        "O 159 346",
        "32U 395201 5673135",
        "15TWG0000049776",
        "EPSG:2154 652000 6862000",
    ] * 40
    expected = [parse(text).centre for text in texts]
    with ThreadPoolExecutor(8) as pool:
        assert [place.centre for place in pool.map(parse, texts)] == expected


@pytest.mark.parametrize("text", ["SA 123 456", "Z 123 456", "OR 50000 50000"])
def test_a_square_of_sea_is_taken_and_said(text: str) -> None:
    place = parse(text)
    assert [note.key for note in place.notes] == ["geo.square_without_land"]
    assert place.precision_m in (1.0, 100.0)


def test_a_square_with_land_says_nothing() -> None:
    assert parse("SK 123 456").notes == ()
