"""Files of a calorimeter in many dialects: general features (encoding, delimiter, decimal sign, preamble, units row, footer,
words of several languages) put together here, of no program's own format."""

import copy
import json
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from forked_command import run

import libcure
from libcure import fitting
from libcure.fitting.record import understood

DSC = Path(__file__).parents[2] / "notebooks" / "data" / "dsc"
N = 120
TIME = np.arange(N) * 3.0 / 60.0  # min
TEMPERATURE = 20.0 + 10.0 * TIME  # °C, 10 K/min
HEAT = 1.5 + np.sin(np.arange(N) / 9.0)  # mW


@dataclass
class Dialect:
    """How a file is written; by default a plain one."""

    headings: tuple = ("Time (min)", "Temperature (°C)", "Heat flow (mW)")
    units: tuple = ()
    order: tuple = (0, 1, 2)
    """Which of time, temperature, heat flow stands in each column; a text stands in all rows as it is."""
    scale: tuple = (1.0, 1.0, 1.0)
    offset: tuple = (0.0, 0.0, 0.0)
    delimiter: str = ","
    decimal: str = "."
    preamble: tuple = ()
    footer: tuple = ()
    between: tuple = ()
    encoding: str = "utf-8"
    bom: bytes = b""
    end: str = "\n"
    form: str = "{:.6f}"
    quoted: bool = False
    trailing: str = ""
    read: dict = field(default_factory=dict)
    unit: str = "mW"

    def write(self, path):
        values = [v * s + o for v, s, o in zip((TIME, TEMPERATURE, HEAT), self.scale, self.offset, strict=True)]
        rows = [[one if isinstance(one, str) else self.form.format(values[one][i]).replace(".", self.decimal)
                 for one in self.order] for i in range(N)]
        quote = '"{}"'.format if self.quoted else str
        lines = [self.delimiter.join(quote(c) for c in cells) + self.trailing
                 for cells in (*([self.headings] if self.headings else []), *([self.units] if self.units else []))]
        body = [self.delimiter.join(quote(c) for c in cells) + self.trailing for cells in rows]
        text = self.end.join([*self.preamble, *lines, *self.between, *body, *self.footer, ""])
        path.write_bytes(self.bom + text.encode(self.encoding))


PREAMBLE = ("Laboratory; bench 3", "Date: 2026-03-04 10:32:11", "Sample mass;8,3;mg", "", "Rate, K/min;10;0", "")
DIALECTS = {
    "comma, utf-8": Dialect(),
    "comma, mark": Dialect(bom=b"\xef\xbb\xbf"),
    "comma, Windows line ends, Latin-1": Dialect(encoding="latin-1", end="\r\n"),
    "comma, quoted": Dialect(quoted=True),
    "comma, quoted decimal comma": Dialect(quoted=True, decimal=","),
    "comma, blanks around": Dialect(delimiter=" , "),
    "comma, exponents": Dialect(form="{:.7E}"),
    "semicolon, decimal comma, cp1252, preamble": Dialect(
        ("Zeit/min", "Temp./°C", "Wärmestrom/(mW/mg)"), delimiter=";", decimal=",", encoding="cp1252", preamble=PREAMBLE,
        unit="mW/mg"),
    "semicolon, decimal point": Dialect(delimiter=";"),
    "semicolon, delimiter at the end of rows": Dialect(delimiter=";", decimal=",", trailing=";"),
    "semicolon, utf-16 le, mark, units row": Dialect(
        ("Index", "Temps", "Température échantillon", "Flux de chaleur"), ("", "s", "°C", "W/g"), ("7", 0, 1, 2),
        (60.0, 1.0, 1.0), delimiter=";", decimal=",", encoding="utf-16-le", bom=b"\xff\xfe", unit="W/g"),
    "tab, utf-16 be, mark": Dialect(delimiter="\t", encoding="utf-16-be", bom=b"\xfe\xff", end="\r\n"),
    "tab, utf-16 le, no mark": Dialect(delimiter="\t", encoding="utf-16-le"),
    "tab, utf-16 be, no mark": Dialect(delimiter="\t", decimal=",", encoding="utf-16-be", preamble=PREAMBLE),
    "tab, units in brackets in their row": Dialect(
        ("t", "T", "DSC"), ("[h]", "[K]", "[uW]"), scale=(1 / 60.0, 1.0, 1e3), offset=(0.0, 273.15, 0.0), delimiter="\t",
        form="{:.9f}", unit="uW"),
    "tab, Spanish, footer": Dialect(
        ("Tiempo [min]", "Temperatura de la muestra [°C]", "Flujo de calor [mW]"), delimiter="\t", decimal=",",
        footer=("", "Pico 41,2 °C", "fin")),
    "blanks, aligned": Dialect(("time_s", "temperature_C", "heat_flow_W_g"), scale=(60.0, 1.0, 1.0), delimiter="   ",
                               form="{:>14.6f}", unit="W/g"),
    "blanks, names of two words, units row": Dialect(
        ("Time", "Sample Temperature", "Heat Flow"), ("min", "°C", "mW"), delimiter="  ", preamble=("run 12", "mass 8.3 mg")),
    "blanks, one, decimal comma": Dialect(("t/min", "T/°C", "HF/mW"), delimiter=" ", decimal=","),
    "blanks, brackets after one blank": Dialect(delimiter=" "),
    "heading as a comment": Dialect(("# Time (min)", "Temp. (°C)", "Heat flow (mW)"), preamble=("# made by hand", "# 8.3 mg")),
    "Fahrenheit, other order, other columns": Dialect(
        ("Marker", "Heat Flow (Normalized) (W/g)", "Temp. (°F)", "Programme temperature (°C)", "Time (sec)"), (),
        ("a", 2, 1, "25.0", 0), (60.0, 1.8, 1.0), (0.0, 32.0, 0.0), delimiter=";", unit="W/g"),
    "all at once, footer": Dialect(
        ("Index", "Zeit", "Probentemperatur", "Wärmestrom"), ("", "[min]", "[°F]", "[mW]"), ("7", 0, 1, 2), (1.0, 1.8, 1.0), (0.0, 32.0, 0.0),
        delimiter=";", decimal=",", preamble=("Prüfbericht 7", "Datum: 03.02.2026 14:05", "Einwaage 7,83 mg", "", "Heizrate: 10,0 K/min", ""),
        between=("",), footer=("", "Ende der Messung", "Unterschrift: ______"), encoding="utf-16-le", bom=b"\xff\xfe", end="\r\n"),
    "semicolon, cp1252, which way the exotherm goes": Dialect(
        ("Nr.", "Zeit", "Probentemp.", "DSC-Signal (exo unten)"), ("", "min", "°C", "µW"), ("7", 0, 1, 2), (1.0, 1.0, 1e3), delimiter=";",
        decimal=",", encoding="cp1252", preamble=("Protokoll;;;", "Masse [mg];7,90;;", ""), footer=("", "Max. 120,0 °C;;;"), end="\r\n", unit="uW"),
    "tab, utf-16, which way in French": Dialect(
        ("Temps (min)", "Température (K)", "Flux de chaleur, exo vers le haut (mW/mg)"), offset=(0.0, 273.15, 0.0), delimiter="\t", decimal=",",
        encoding="utf-16", unit="mW/mg"),
    "sample beside reference": Dialect(("Time (min)", "Tr (°C)", "Ts (°C)", "HF (mW)"), (), (0, "25.0", 1, 2)),
    "programme only": Dialect(("Time (min)", "Programme temperature (°C)", "Heat flow (mW)")),
    "blank line and comment between": Dialect(between=("", "# rows follow", "")),
    "superscripts": Dialect(("Time, min", "Temperature in °C", "Heat flow / W·g⁻¹"), delimiter=";", unit="W/g"),
    "footer of a table": Dialect(delimiter=";", footer=("Results;;", "Heat;350,2;J/g", "Peak;110,0;°C")),
    "map by headings": Dialect(("Elapsed", "Oven", "Signal A"), (), delimiter=";", decimal=",", read={
        "time": {"heading": "Elapsed", "unit": "min"}, "temperature": {"heading": "Oven", "unit": "°C"},
        "heat_flow": {"heading": "Signal A", "unit": "mW"}}),
    "map by numbers, no heading": Dialect((), (), (2, 0, 1), delimiter="\t", read={
        "time": {"column": 2, "unit": "min"}, "temperature": {"column": 3, "unit": "degC"},
        "heat_flow": {"column": 1, "unit": "mW"}}),
    "map of one of two heat flows": Dialect(
        ("Time (min)", "Temperature (°C)", "Heat flow (mW)", "Heat flow (W/g)"), (), (0, 1, 2, "0.5"), read={
            "heat_flow": {"heading": "Heat flow (mW)"}}),
}


def test_the_corpus_is_large_enough():
    assert len(DIALECTS) >= 20


@pytest.mark.parametrize("name", DIALECTS)
def test_every_dialect_reads_as_the_same_record(name, tmp_path):
    dialect = DIALECTS[name]
    path = tmp_path / "run.csv"
    dialect.write(path)
    record = fitting.read_csv(path, dialect.read)
    np.testing.assert_allclose(record.time, 60.0 * TIME, atol=1e-3)
    np.testing.assert_allclose(record.temperature, TEMPERATURE + 273.15, atol=1e-5)
    np.testing.assert_allclose(record.heat_flow, HEAT * dialect.scale[2], atol=1e-5 * dialect.scale[2])
    assert record.heat_flow_unit == dialect.unit
    assert record.left_out == () or dialect.footer


@pytest.mark.parametrize("name", DIALECTS)
def test_check_says_what_it_understood(name, tmp_path):
    dialect = DIALECTS[name]
    dialect.write(tmp_path / "run.csv")
    if dialect.read:
        return
    said = " ".join(run("check", tmp_path / "run.csv").stdout.split())
    assert f"{N} rows" in said
    assert "heating rate 10 K/min, from 20.0 to 79.5 °C" in said
    assert f"decimal {'comma' if dialect.decimal == ',' else 'point'}" in said
    assert "every 3 s" in said
    for word in ("Time: column", "Temperature: column", "Heat flow: column"):
        assert word in said


def test_check_names_columns_units_preamble_and_footer(tmp_path):
    path = tmp_path / "run.csv"
    DIALECTS["semicolon, decimal comma, cp1252, preamble"].write(path)
    said = " ".join(run("check", path).stdout.split())
    assert "Windows-1252 (Latin-1), semicolon between cells, decimal comma" in said
    assert 'Heat flow: column 3 "Wärmestrom/(mW/mg)" in mW/mg' in said
    assert "4 lines before (heading in line 7), 0 after the rows" in said
    DIALECTS["tab, Spanish, footer"].write(path)
    said = " ".join(run("check", path).stdout.split())
    assert "2 after the rows" in said
    assert 'Lines 123 to 124 after the last row are no rows of numbers ("Pico 41,2 °C"); not used.' in said
    DIALECTS["Fahrenheit, other order, other columns"].write(path)
    assert 'Not used: "Marker", "Programme temperature (°C)"' in " ".join(run("check", path).stdout.split())


def test_a_footer_whose_last_line_has_no_end_is_a_footer(tmp_path):
    path = tmp_path / "run.csv"
    DIALECTS["all at once, footer"].write(path)
    path.write_bytes(path.read_bytes()[: -len("\r\n".encode("utf-16-le"))])
    said = " ".join(run("check", path).stdout.split())
    assert "2 after the rows" in said
    assert 'after the last row are no rows of numbers ("Ende der Messung"); not used.' in said
    assert "still being written" not in said


def test_check_tells_a_hold_from_a_ramp():
    said = " ".join(run("check", DSC / "isothermal_60C.csv").stdout.split())
    assert "isothermal at 60.0 °C" in said
    assert "heating rate 5 K/min" in run("check", DSC / "ramp_5K.csv").stdout


def test_a_temperature_that_is_not_the_samples_is_said(tmp_path):
    DIALECTS["programme only"].write(tmp_path / "run.csv")
    assert "The temperature is that of the programme or reference" in " ".join(run("check", tmp_path / "run.csv").stdout.split())
    text = (DSC / "ramp_5K.csv").read_text(encoding="utf-8").replace("temperature_C", "Programme temperature (°C)")
    for name, heading in (("a", text), ("b", text.replace("Programme ", "Sample "))):
        (tmp_path / name).write_text(heading, encoding="utf-8")
    codes = [{f.code for f in fitting.analyse(fitting.read_csv(tmp_path / name), "A", mass_kg=8.3e-6, exotherm_up=False,
                                              heating_rate=5 / 60).findings} for name in "ab"]
    assert "programme_temperature" in codes[0] and "programme_temperature" not in codes[1]


def rows(*cells, count=60):
    return "".join(";".join(cells).replace("i", str(i)) + "\n" for i in range(count))


REFUSED = {
    "no heading": (rows("i", "2i", "1.5"), "no heading with time, temperature and heat flow above line 1"),
    "no unit": ("Time;T (°C);DSC (mW)\n" + rows("i", "2i", "1.5"), "line 1, column 1 'Time': no unit; allowed: one of s, min, h or hh:mm:ss"),
    "unknown unit": ("Time (s);T (°C);DSC (µV/mg)\n" + rows("i", "2i", "1.5"), "column 3 'DSC (µV/mg)': unit \"µV/mg\""),
    "two heat flows": ("Time (s);T (°C);HF (mW);HF (W/g)\n" + rows("i", "2i", "1.5", "0.2"),
                       "heat flow named 2 times: column 3 'HF (mW)' and column 4 'HF (W/g)'"),
    "two temperatures": ("Time (s);T (°C);T (K);HF (mW)\n" + rows("i", "2i", "3", "0.2"), "temperature named 2 times"),
    "comma as delimiter and decimal sign": ("Time (s),T (°C),HF (mW)\n" + rows("i,5", "2i,5", "1,5").replace(";", ","),
                                            "line 2: 6 cells under 3 headings (line 1); allowed: a heading for each column; are there commas"),
    "thousands or decimals": ("Time (s);T (°C);HF (mW)\n" + rows("i,5", "2i,5", "1,5") + "1.060;22,5;1,5\n",
                              'line 62, time: "1.060"; allowed: a finite number, with "," as its decimal sign'),
    "clock without its unit": ("Time (min);T (°C);HF (mW)\n" + rows("00:00:0i", "2i", "1.5"), 'time: "00:00:00" in min'),
    "unit of a clock without one": ("Time (hh:mm:ss);T (°C);HF (mW)\n" + rows("i.5", "2i.5", "1.5"), 'time: "0.5" in hh:mm:ss'),
    "other decimal sign further down": ("Time (s);T (°C);HF (mW)\n" + rows("i.5", "2i.5", "1.5") + rows("i,5", "2i,5", "1,5", count=20)
                                        + "9999.5;1.5;1.5\n", 'line 62, time: "0,5"'),
    "second table": ("Time (s);T (°C);HF (mW)\n" + rows("i.5", "2i.5", "1.5") + "Segment 2\n" + rows("i.5", "2i.5", "1.5"),
                     'line 62, time: "Segment 2"; allowed: a finite number'),
    "words under the heading": ("Time (s);T (°C);HF (mW)\na;b;c\n" + rows("i", "2i", "1.5"), 'line 2: "a;b;c"; allowed: a row of units or of numbers'),
    "time by the clock": ("Time (s);T (°C);HF (mW)\n" + rows("00:00:0i", "2i", "1.5"), 'line 2, time: "00:00:00" in s'),
    "fewer headings": ("Time (s);T (°C);HF (mW)\n" + rows("i", "2i", "1.5", "7"), "4 cells under 3 headings"),
    "no numbers": ("a;b;c\nd;e;f\n", "no rows of numbers"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_stays_ambiguous_is_refused_in_one_line(name, tmp_path):
    text, said = REFUSED[name]
    path = tmp_path / "run.csv"
    path.write_text(text, encoding="utf-8")
    done = run("check", path, code=2)
    assert said in done.stderr
    assert str(path) in done.stderr
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""


@pytest.mark.parametrize(("heading", "cells", "last"), [
    ("Time (s);T (°C);HF (mW)", lambda i: (f"{i},5", f"{20 + i},5", "1,5"), ("1.060,5", "80,5", "1,5")),
    ("Time (s);T (°C);HF (mW)", lambda i: (f"{i}.5", f"{20 + i}.5", "1.5"), ("1,060.5", "80.5", "1.5")),
    ("Time (s);T (°C);HF (mW)", lambda i: (f"{i},5", f"{20 + i},5", "1,5"), ("1 060,5", "80,5", "1,5")),
    ("Time (s);T (°C);HF (mW)", lambda i: (f"{i},5", f"{20 + i},5", "1,5"), ("1\u202f060,5", "80,5", "1,5")),
    ("Time (hh:mm:ss);T (°C);HF (mW)", lambda i: (f"00:00:{i:02d},5", f"{20 + i},5", "1,5"), ("00:17:40,5", "80,5", "1,5")),
    ("Time;T;HF\nh:mm:ss;°C;mW", lambda i: (f"0:00:{i:02d}.5", f"{20 + i}.5", "1.5"), ("0:17:40.5", "80.5", "1.5")),
])
def test_thousands_and_clocks_that_cannot_be_mistaken_are_read(heading, cells, last, tmp_path):
    text = "\n".join([heading, *(";".join(cells(i)) for i in range(60)), ";".join(last), ""])
    (tmp_path / "run.csv").write_text(text, encoding="utf-8")
    record = fitting.read_csv(tmp_path / "run.csv")
    assert record.time[[0, 59, 60]] == pytest.approx([0.5, 59.5, 1060.5])
    assert record.temperature[-1] == pytest.approx(80.5 + 273.15)


EVENING, WARM, DAY = datetime(2026, 11, 29, 23, 59), ";T (°C);HF (mW)", datetime(2026, 4, 3, 7)


def moments(tmp_path, heading, forms, start=EVENING, delimiter=";"):
    """A record every 3 s whose times are moments in these forms; from the evening on it goes past midnight."""
    lines = [heading]
    for i in range(60):
        now = start + timedelta(seconds=3 * i)
        lines.append(delimiter.join([*[now.strftime(form) for form in forms], f"{20 + 0.5 * i:.2f}", f"{1.5 + 0.01 * i:.3f}"]))
    path = tmp_path / "run.csv"
    path.write_text("\n".join([*lines, ""]), encoding="utf-8")
    return path


@pytest.mark.parametrize(("heading", "forms", "start", "order", "more"), [
    ("Date/Time" + WARM, ["%d.%m.%Y %H:%M:%S"], EVENING, "day-month-year", {}),
    ("Datum/Zeit" + WARM, ["%d.%m.%y %H:%M:%S"], EVENING, "day-month-year", {}),
    ("Timestamp" + WARM, ["%Y-%m-%dT%H:%M:%S.%f"], EVENING, "year-month-day", {}),
    ("Date Time,T (°C),HF (mW)", ["%m/%d/%Y %I:%M:%S %p"], EVENING, "month-day-year", {"delimiter": ","}),
    ("Date;Time" + WARM, ["%d.%m.%Y", "%H:%M:%S"], EVENING, "day-month-year", {}),
    ("Date Uhrzeit T(°C) HF(mW)", ["%Y-%m-%d", "%H:%M:%S"], EVENING, "year-month-day", {"delimiter": " "}),
    ("Time;Date" + WARM, ["%I:%M:%S %p", "%m/%d/%Y"], EVENING, "month-day-year", {}),
    # A day above 12 in the last rows settles those before it; times that fall settle it too; of one day it does not matter.
    ("Date/Time" + WARM, ["%d/%m/%Y %H:%M:%S"], datetime(2026, 4, 12, 23, 59), "day-month-year", {}),
    ("Date/Time" + WARM, ["%m/%d/%Y %H:%M:%S"], datetime(2026, 11, 30, 23, 59), "month-day-year", {}),
    ("Date/Time" + WARM, ["%d/%m/%Y %H:%M:%S"], DAY, "one day, so that its order does not matter", {}),
])  # fmt: skip
def test_moments_with_a_date_are_read(heading, forms, start, order, more, tmp_path):
    path = moments(tmp_path, heading, forms, start, **more)
    record = fitting.read_csv(path)
    np.testing.assert_allclose(record.time, 3.0 * np.arange(60), atol=1e-6)
    first = " ".join(start.strftime(form) for form in (forms if heading[:4] != "Time" or len(forms) == 1 else forms[::-1]))
    assert dict(understood(record))["Time"].endswith(f"from {first} on ({order}), 177 s")


@pytest.mark.parametrize("asked", [{"heading": "Wann"}, {"column": 1}, {"column": 1, "unit": "date and time"}])
def test_a_column_of_moments_can_be_named(asked, tmp_path):
    path = moments(tmp_path, "Wann" + WARM, ["%d.%m.%Y %H:%M:%S"])
    assert fitting.read_csv(path, {"time": asked}).time[-1] == pytest.approx(177.0)


@pytest.mark.parametrize(("heading", "forms", "start", "said"), [
    ("Date/Time" + WARM, ["%d/%m/%Y %H:%M:%S"], datetime(2026, 4, 3, 23, 59),
     'line 22, time: "04/04/2026 00:00:00" is day-month-year or month-day-year; allowed: dates such as 2026-11-29'),
    ("Date/Time (s)" + WARM, ["%d.%m.%Y %H:%M:%S"], EVENING, '"29.11.2026 23:59:00" in s; allowed: a time by the clock where the unit is'),
    ("Date/Time" + WARM, ["%d.%m.%Y"], EVENING, "'Date/Time': no unit"),
    ("Date/Time" + WARM, ["31.02.%Y %H:%M:%S"], EVENING, 'line 2, time: "31.02.2026 23:59:00"; allowed: a date that there is'),
])  # fmt: skip
def test_moments_that_stay_open_are_refused_in_one_line(heading, forms, start, said, tmp_path):
    with pytest.raises(libcure.CureError) as caught:
        fitting.read_csv(moments(tmp_path, heading, forms, start))
    assert said in str(caught.value) and "\n" not in str(caught.value)


@pytest.mark.parametrize("data", [b"\x00\x01\x02\x03" * 400, b"PK\x03\x04" + bytes(range(256)) * 20])
def test_what_is_no_text_is_refused(data, tmp_path):
    (tmp_path / "run.csv").write_bytes(data)
    assert "no text" in run("check", tmp_path / "run.csv", code=2).stderr


def document(tmp_path, dialect, **more):
    """The shipped fit with its 5 K/min run in another dialect."""
    found = json.loads((DSC / "fit.json").read_text(encoding="utf-8"))
    found["runs"] = [r for r in found["runs"] if r["file"] == "ramp_5K.csv"]
    lines = (DSC / "ramp_5K.csv").read_text(encoding="utf-8").splitlines()[2:]
    (tmp_path / "run.txt").write_text("\n".join([dialect, *[line.replace(",", ";").replace(".", ",") for line in lines], ""]),
                                      encoding="cp1252")
    found["runs"][0].update(file="run.txt", **more)
    return found


def test_a_fit_takes_the_map_of_its_document(tmp_path):
    columns = {"time": {"heading": "Uhr", "unit": "min"}, "temperature": {"column": 2, "unit": "°C"}}
    given = document(tmp_path, "Uhr;Ofen;DSC/mW", columns=columns)
    libcure.validate(given)
    (read,) = fitting.study.from_document(given, tmp_path).runs
    plain = fitting.read_csv(DSC / "ramp_5K.csv")
    np.testing.assert_array_equal(read.time, plain.time)
    np.testing.assert_array_equal(read.temperature, plain.temperature)


@pytest.mark.parametrize(("columns", "said"), [
    ({"time": {"heading": "Clock", "unit": "min"}}, "columns.time.heading: \"Clock\", not in the file"),
    ({"time": {"column": 4, "unit": "min"}}, "columns.time.column: 4; allowed: 1 to 3"),
    ({"time": {"column": 1, "unit": "days"}}, 'columns.time.unit: "days"; allowed: one of s, min, h or hh:mm:ss'),
    ({"time": {"column": 1}}, "columns.time.unit: missing"),
    ({"time": {"column": 1, "unit": "min"}, "temperature": {"column": 1, "unit": "K"}}, "column 1 is time and temperature"),
])  # fmt: skip
def test_a_wrong_map_is_refused(columns, said, tmp_path):
    given = document(tmp_path, "Uhr;Temp./°C;DSC/mW", columns=columns)
    with pytest.raises(libcure.CureError) as caught:
        fitting.study.from_document(given, tmp_path)
    assert said in str(caught.value)


@pytest.mark.parametrize("columns", [{"clock": {"column": 1}}, {"time": "Uhr"}, {"time": {"unit": "min"}},
                                     {"time": {"column": 0, "unit": "s"}}, {"time": {"column": 1, "heading": "a"}}])  # fmt: skip
def test_the_schema_refuses_a_map_that_cannot_be(columns, tmp_path):
    given = document(tmp_path, "Uhr;Temp./°C;DSC/mW", columns=columns)
    with pytest.raises(libcure.CureError):
        libcure.validate(given)
    with pytest.raises(libcure.CureError, match="columns"):
        fitting.study.from_document(given, tmp_path)


SHIPPED = json.loads((DSC / "fit.json").read_text(encoding="utf-8"))
RAMP = next(i for i, r in enumerate(SHIPPED["runs"]) if r["file"] == "ramp_5K.csv")
HOLD = next(i for i, r in enumerate(SHIPPED["runs"]) if "isothermal_C" in r)


def changed(place, **more):
    found = copy.deepcopy(SHIPPED)
    found["runs"][place].update(more)
    return found


@pytest.mark.parametrize(("place", "more", "said"), [
    (RAMP, {"baseline": {"left_C": [-60, -40]}}, "baseline.left_C: [-60, -40]; allowed: within the record"),
    (RAMP, {"baseline": {"right_C": [5, 20]}}, "right_C: [5, 20]; allowed: above the left window"),
    (RAMP, {"baseline": {"left_C": [150, 170], "right_C": [100, 120]}}, "allowed: above the left window"),
    (HOLD, {"baseline": {"left_C": [20, 30]}}, "baseline.left_C of an isothermal run; allowed: begin_min and end_min"),
    (HOLD, {"heating_rate_K_min": 5}, "heating_rate_K_min: given; allowed: not together with isothermal_C"),
])  # fmt: skip
def test_windows_and_programmes_that_cannot_be_are_named(place, more, said):
    with pytest.raises(libcure.CureError) as caught:
        fitting.study.from_document(changed(place, **more), DSC)
    assert said in str(caught.value)


def test_a_window_on_one_side_leaves_the_other_to_be_found(tmp_path):
    """A record that ends too early for the search: with its right window given, it must not ask for that window again."""
    lines = (DSC / "ramp_5K.csv").read_text(encoding="utf-8").splitlines()
    ends = next(i for i, line in enumerate(lines[2:], 2) if float(line.split(",")[1]) > 168.0)
    (tmp_path / "ramp_5K.csv").write_text("\n".join([*lines[:ends], ""]), encoding="utf-8")
    found = copy.deepcopy(SHIPPED)
    found["runs"] = [found["runs"][RAMP]]
    found["runs"][0]["baseline"] = {"right_C": [163, 167]}
    (read,) = fitting.study.from_document(found, tmp_path).runs
    inside = np.interp(read.windows, read.time, read.temperature) - 273.15
    assert 162.0 < inside[2] < inside[3] < 168.0
    assert inside[1] < 80.0
