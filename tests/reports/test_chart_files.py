"""Charts as files: each kind opens as what its name says, and holds every chart."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import av
import pytest
from tests.reports.test_charts import small_chart

from strikeline.bootstrap.chart_files import write_chart
from strikeline.errors import InputError
from strikeline.reports.chart_files import chart_bytes
from strikeline.reports.ink import PAPER

SVG = "{http://www.w3.org/2000/svg}"
TWO = (small_chart(), small_chart(name="tension-n", axis_title="newton"))


def test_charts_stand_below_each_other_in_one_drawing() -> None:
    root = ET.fromstring(chart_bytes(TWO, suffix=".svg", title="Two & more"))  # noqa: S314  (drawn by ourselves)
    first, second = root.findall(f"{SVG}svg")
    assert float(second.attrib["y"]) > float(first.attrib["y"]) + float(first.attrib["height"])
    assert float(root.attrib["height"]) > float(second.attrib["y"]) + float(second.attrib["height"])
    assert root.findtext(f"{SVG}title") == "Two & more"
    ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
    assert len(ids) == len(set(ids))


def test_a_picture_has_twice_the_pixels_and_lies_on_paper() -> None:
    size = re.search(rb'width="([\d.]+)" height="([\d.]+)" viewBox', chart_bytes(TWO, suffix=".svg", title="t"))
    assert size is not None
    with av.open(io.BytesIO(chart_bytes(TWO, suffix=".PNG", title="t")), mode="r", format="png_pipe") as picture:
        pixels = next(picture.decode(video=0)).to_ndarray(format="rgb24")
    width, height = (round(2 * float(side)) for side in size.groups())
    assert pixels.shape == (height, width, 3)
    assert tuple(pixels[0, 0]) == tuple(bytes.fromhex(PAPER[1:]))


def test_a_page_needs_nothing_from_elsewhere_and_describes_each_chart(tmp_path: Path) -> None:
    path = tmp_path / "scale.html"
    write_chart(TWO, path, title="A <scale>")
    page = path.read_text()
    assert page.count("<figure>") == 2
    assert "<h1>A &lt;scale&gt;</h1>" in page
    assert page.count("chart &amp; more &lt;than&gt; nothing.</figcaption>") == 2
    assert not re.search(r'(?:src|href)="(?!data:)', page)
    assert not re.search(r"url\((?!data:|#)", page)


@pytest.mark.parametrize("name", ["scale.pdf", "scale", "scale.csv"])
def test_another_ending_is_refused_and_nothing_is_written(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError, match=r"ends in \.svg, \.png or \.html"):
        write_chart(small_chart(), tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_nothing_to_draw_is_said() -> None:
    with pytest.raises(InputError, match="nothing to draw"):
        chart_bytes((), suffix=".svg", title="t")
