"""Logs as loggers write them: clocks and dates, lines above the heading, several channels, other encodings, dead channels."""

import datetime
import json

import numpy as np
import pytest
from follow_synthetic import CASES, Truth, readings
from forked_command import run

import libcure
from libcure.following import read_readings

COLD = CASES / "cold_ground_winter.json"
LOG = CASES.parents[1] / "notebooks" / "data" / "follow" / "cold_ground.csv"
PLAIN = read_readings(LOG)
MIXED = datetime.datetime(2026, 3, 24, 22, 30)
ROWS = [(MIXED + datetime.timedelta(seconds=float(t)), T - 273.15) for t, T in zip(PLAIN.time, PLAIN.temperature, strict=True)]


def written(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "log.csv"
    path.write_bytes(text.encode(encoding))
    return path


def number(T, point="."):
    return "---" if np.isnan(T) else f"{T:.6f}".replace(".", point)


def log(form, heading="Time,Temp (°C)", separator=",", point="."):
    rows = (f"{t.strftime(form)}{separator}{number(T, point)}" for t, T in ROWS)
    return "\n".join([heading, *rows, ""])


@pytest.mark.parametrize(("form", "heading", "separator", "point"), [
    ("%H:%M:%S", "Time,Temp (°C)", ",", "."),
    ("%H:%M:%S", "Uhrzeit;Temperatur [°C]", ";", ","),
    ("%H:%M:%S", "Uhr;Temperatur [°C]", ";", ","),
    ("%H:%M:%S", "Zeit (Uhr);Temperatur [°C]", ";", ","),
    ("%d.%m.%Y;%H:%M:%S", "Datum;Uhr;Temp. °C", ";", ","),
    ("%I:%M:%S %p", "Time,Temperature_C", ",", "."),
    ("%Y-%m-%dT%H:%M:%S", "Timestamp,CH1 [°C]", ",", "."),
    ("%Y-%m-%d %H:%M:%S.000", "Date/Time\tProbe A °C", "\t", ","),
    ("%Y-%m-%dT%H:%M:%S+01:00", "timestamp,T1 (°C)", ",", "."),
    ("%d.%m.%Y %H:%M:%S", "Datum/Zeit;Kanal 1 (°C)", ";", ","),
    ("%d/%m/%Y %H:%M:%S", "Date Time,temp degC", ",", "."),
    ("%d/%m/%y, %H:%M:%S", "Date Time;temp degC", ";", "."),
    ("%m/%d/%Y %H:%M:%S", "Date Time,Temperature [Celsius]", ",", "."),
    ("%d.%m.%Y;%H:%M:%S", "Datum;Zeit;Temp. °C", ";", ","),
])  # fmt: skip
@pytest.mark.parametrize("mixed_at", ["22:30", "22:30:00"])
def test_times_of_day_count_from_mixing_and_pass_midnight(tmp_path, form, heading, separator, point, mixed_at):
    assert ROWS[0][0].date() != ROWS[-1][0].date()
    found = read_readings(written(tmp_path, log(form, heading, separator, point)), mixed_at=mixed_at)
    np.testing.assert_allclose(found.time, PLAIN.time, atol=1e-6)
    np.testing.assert_allclose(found.temperature, PLAIN.temperature, atol=1e-5)


def test_a_day_whose_order_is_open_is_the_one_that_makes_a_short_log(tmp_path):
    """5/6/2026 to 6/6/2026 is a night; from 6 May to 6 June it would be a month."""
    for order in ("5/6/2026 23:50,7\n6/6/2026 00:10,8\n", "6/5/2026 23:50,7\n6/6/2026 00:10,8\n"):
        found = read_readings(written(tmp_path, "Date Time,temp_C\n" + order), mixed_at="23:30")
        np.testing.assert_allclose(found.time, [1200.0, 2400.0])


def test_whole_minutes_and_elapsed_times(tmp_path):
    found = read_readings(written(tmp_path, "Time,Temp_C\n23:58,7\n23:59,8\n0:00,9\n"), mixed_at="23:30")
    np.testing.assert_allclose(found.time, [1680.0, 1740.0, 1800.0])
    found = read_readings(written(tmp_path, "Elapsed time (h:mm:ss),Temp_C\n0:20:00,7\n25:00:30.5,8\n"))
    np.testing.assert_allclose(found.time, [1200.0, 90030.5])
    found = read_readings(written(tmp_path, "time_s,Temp_C\n1200,7\n1201.5,8\n"))
    np.testing.assert_allclose(found.time, [1200.0, 1201.5])


def test_a_logger_that_ran_before_mixing(tmp_path):
    found = read_readings(written(tmp_path, "Time,Temp_C\n22:00,15\n22:45,7\n"), mixed_at="22:30")
    np.testing.assert_allclose(found.time, [-1800.0, 900.0])


def test_lines_above_the_heading_and_a_line_of_units(tmp_path):
    above = 'Model;X 4\nSerial number;0815\nTime zone;UTC+1\nSample interval: 60 s\n"a stray "quote"\n\n'
    text = log("%d.%m.%Y;%H:%M:%S", "Date;Time;CH1", ";", ",").split("\n", 1)
    path = written(tmp_path, above + text[0] + "\n;;°C\n" + text[1])
    np.testing.assert_allclose(read_readings(path, mixed_at="22:30").time, PLAIN.time, atol=1e-6)
    path = written(tmp_path, "Plot Title: 12\n" + '"#","Date Time, GMT+01:00","Temp, °C (LGR S/N: 1, SEN S/N: 2)"\n1,24/03/26 22:50:00,7.5\n')
    assert read_readings(path, mixed_at="22:30").time == pytest.approx([1200.0])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "latin-1"])
def test_encodings(tmp_path, encoding):
    text = "time_min;temperature [°C]\n20;7,5\n21;8,0\n"
    found = read_readings(written(tmp_path, text, encoding))
    np.testing.assert_allclose(found.temperature, [280.65, 281.15])
    assert not found.left_out
    for cut in (1, 2, 3, 4, 5, 6):
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode(encoding)[:-cut])
        assert read_readings(path).temperature == pytest.approx([280.65])


CHANNELS = "time_min,CH1 (°C),CH2 (°C),Air_C,spare (°C)\n20,7.5,9,1,\n21,8,9.5,2,\n"


@pytest.mark.parametrize(("channel", "first"), [("1", 7.5), ("2", 9.0), ("ch2", 9.0), ("CH1 (°C)", 7.5), ("air", 1.0)])
def test_a_channel_by_number_or_name(tmp_path, channel, first):
    assert read_readings(written(tmp_path, CHANNELS), channel=channel).temperature[0] == pytest.approx(273.15 + first)


def test_a_column_without_numbers_is_no_choice(tmp_path):
    assert len(read_readings(written(tmp_path, "time_min,CH1 (°C),CH2 (°C)\n20,7.5,\n21,8,---\n"))) == 2


@pytest.mark.parametrize(("text", "options", "words"), [
    (CHANNELS, {}, 'heading, temperature: 4 columns: 1 "CH1 (°C)", 2 "CH2 (°C)", 3 "Air_C", 4 "spare (°C)"; allowed: one; channel takes'),
    (CHANNELS, {"channel": "5"}, 'channel: "5"; allowed: one of 1 "CH1 (°C)"'),
    (CHANNELS, {"channel": "ch"}, 'channel: "ch" is a part of several; allowed: one of 1'),
    (CHANNELS, {"mixed_at": "22:30"}, "times count from mixing"),
    ("Time,Temp_C\n22:50,7\n", {}, 'mixed_at: missing: "Time" has times of day; allowed: the time of day of mixing'),
    ("Time,Temp_C\n22:50,7\n", {"mixed_at": "25:00"}, 'mixed_at: "25:00"; allowed: a time of day such as 22:30'),
    ("Time,Temp_C\n22:50,7\n", {"mixed_at": "2026-03-24 22:30"}, "the log has no dates"),
    ("Time,Temp_C\n22:50,7\n6:00,8\n16:00,8\n23:00,8\n", {"mixed_at": "22:30"}, "comes twice in the log"),
    ("Time,Temp_C\nsoon,7\n", {"mixed_at": "22:30"}, 'column "Time": unit ""; allowed: one of min, s, h, or times of day'),
    ("time_min,temperature_C\n20,7,5\n21,8,0\n", {}, "rows: 2 have more cells than the heading; allowed: numbers with a decimal point"),
    ("Serial;5\nDate;Time;CH1\n24.3.2026;22:50;7\n", {"mixed_at": "22:30"}, 'no column for it in "Date;Time;CH1"'),
])  # fmt: skip
def test_what_is_not_clear_is_one_error(tmp_path, text, options, words):
    with pytest.raises(libcure.CureError) as caught:
        read_readings(written(tmp_path, text), **options)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)
    assert caught.value.file.endswith("log.csv")


def test_a_date_of_mixing_tells_which_night(tmp_path):
    path = written(tmp_path, "Time,Temp_C\n24.03.2026 08:00,15\n25.03.2026 22:50,7\n")
    with pytest.raises(libcure.CureError, match="comes twice in the log; allowed: the time with its date"):
        read_readings(path, mixed_at="14:00")
    assert read_readings(path, mixed_at="2026-03-25 22:30").time[-1] == pytest.approx(1200.0)


def test_follow_takes_clock_and_channel_as_it_takes_minutes(tmp_path):
    rows = "".join(f"{t:%d.%m.%Y %H:%M:%S};{number(T, ',')};5,0\n" for t, T in ROWS)
    path = written(tmp_path, "Logger X\nDate Time;CH1 (°C);Air (°C)\n" + rows, "utf-16")
    plain = json.loads(run("follow", COLD, LOG, "--json", "-").stdout)
    found = json.loads(run("follow", COLD, path, "--channel", "CH1", "--mixed-at", "22:30", "--json", "-").stdout)
    assert found["release_min"] == plain["release_min"]
    assert found["readings"]["used"] == plain["readings"]["used"]
    assert '2 "Air (°C)"' in run("follow", COLD, path, "--mixed-at", "22:30", code=2).stderr


@pytest.mark.parametrize(("value", "code"), [(-9999.0, "out_of_range"), (0.0, "dead")])
def test_what_a_dead_channel_writes_is_noticed(value, code):
    job = Truth("cold_ground_winter", (0.0, 0.0, 0.0, 0.0, 0.0))
    time, T = job.log(170, 11)
    T = T.copy()
    T[-8:] = value
    result = libcure.follow(job.loaded, readings(time, T), samples=64, threads=2)
    assert {s.code: s.count for s in result.faults} == {code: 8}
    assert result.release_min >= job.release_min
