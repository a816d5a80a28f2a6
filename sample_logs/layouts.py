"""Invented layouts of logger files: none reproduces the format of a product.

A layout is data: encoding, delimiter, decimal mark, how a time is written, the words of its header. One function
writes them all.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

from isohume.sample_logs.sorption import FloatArray

Form = Literal["one sensor", "side by side", "one below the other"]
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How one family of files is written.

    Attributes
    ----------
    times : tuple of str
        One text per time column, filled with `t` (local time), `month`, `hour12`, `half` (AM, PM), `offset`, `epoch`.
    preamble, footer : tuple of str
        Lines before the header and after the rows, filled with `serial`, `name`, `n`, `first`, `last`, and the `mean`,
        `least` and `most` humidity of the first sensor.
    header, units : tuple of str
        Column names and their second line; the names are of one sensor, `{channel}` stands for its name.
    """

    times: tuple[str, ...]
    header: tuple[str, ...]
    units: tuple[str, ...] = ()
    preamble: tuple[str, ...] = ()
    footer: tuple[str, ...] = ()
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    newline: str = "\n"
    form: Form = "one sensor"
    fahrenheit: bool = False
    numbered: bool = False
    quoted: bool = False
    trailing: bool = False
    newest_first: bool = False
    temperature_first: bool = False
    utc: bool = False
    digits: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorRows:
    """What one sensor of a file recorded: values [%RH], [°C] at the file's times."""

    name: str
    rh_percent: FloatArray
    temperature_celsius: FloatArray


def render(
    layout: Layout, *, times_utc: Sequence[dt.datetime], sensors: Sequence[SensorRows], serial: str, zone: dt.tzinfo
) -> bytes:
    """Write one file.

    Parameters
    ----------
    layout : Layout
    times_utc : sequence of datetime (UTC)
    sensors : sequence of SensorRows
        More than one only where the layout's form holds several.
    serial : str
        For the preamble.
    zone : tzinfo
        Of the logger's clock; a layout that writes UTC ignores it.
    """
    local = [t.astimezone(dt.UTC if layout.utc else zone) for t in times_utc]
    stamps = [[text.format(**_time_words(t)) for text in layout.times] for t in local]
    cells = [_sensor_cells(layout, sensor) for sensor in sensors]
    if layout.form == "one below the other":
        rows = [
            [sensor.name, *stamp, *values[k]]
            for k, stamp in enumerate(stamps)
            for sensor, values in zip(sensors, cells, strict=True)
        ]
    else:
        rows = [[*stamp, *(cell for values in cells for cell in values[k])] for k, stamp in enumerate(stamps)]
    if layout.newest_first:
        rows.reverse()
    if layout.numbered:
        rows = [[str(k), *row] for k, row in enumerate(rows, 1)]

    n_time = len(layout.header) - 2
    words = _words(layout, local, sensors, serial=serial, n=len(rows))
    header, units = (
        [*names[:n_time], *(name.format(channel=sensor.name) for sensor in sensors for name in names[n_time:])]
        if layout.form == "side by side"
        else list(names)
        for names in (layout.header, layout.units)
    )
    lines = [line.format(**words) for line in layout.preamble]
    lines += [_joined(layout, names) for names in (header, units) if names]
    lines += [_joined(layout, row) for row in rows]
    lines += [line.format(**words) for line in layout.footer]
    byte_order_mark = "\ufeff" if layout.encoding == "utf-16-le" else ""
    return (byte_order_mark + layout.newline.join(lines) + layout.newline).encode(layout.encoding)


def clock_zone(name: str) -> dt.tzinfo:
    """Return the zone of a clock: a name of the time zone database, or a fixed offset like +01:00."""
    if name.startswith(("+", "-")):
        offset = dt.datetime.strptime(name, "%z").utcoffset()
        return dt.timezone(offset if offset is not None else dt.timedelta(0))
    return ZoneInfo(name)


def _time_words(t: dt.datetime) -> dict[str, object]:
    offset = t.strftime("%z")
    return {
        "t": t,
        "month": MONTHS[t.month - 1],
        "hour12": (t.hour + 11) % 12 + 1,
        "half": "AM" if t.hour < 12 else "PM",
        "offset": f"{offset[:3]}:{offset[3:]}",
        "epoch": int(t.timestamp()),
    }


def _sensor_cells(layout: Layout, sensor: SensorRows) -> list[list[str]]:
    warmth = sensor.temperature_celsius * 1.8 + 32 if layout.fahrenheit else sensor.temperature_celsius
    texts = ([_number(layout, value) for value in values] for values in (sensor.rh_percent, warmth))
    pairs = list(zip(*texts, strict=True))
    return [[warm, rh] if layout.temperature_first else [rh, warm] for rh, warm in pairs]


def _number(layout: Layout, value: float) -> str:
    return f"{value:.{layout.digits}f}".replace(".", layout.decimal)


def _words(
    layout: Layout, local: Sequence[dt.datetime], sensors: Sequence[SensorRows], *, serial: str, n: int
) -> dict[str, object]:
    humidity = sensors[0].rh_percent
    figures = {"mean": humidity.mean(), "least": humidity.min(), "most": humidity.max()}
    return {
        "serial": serial,
        "n": n,
        "first": local[0],
        "last": local[-1],
        **{name: _number(layout, float(value)) for name, value in figures.items()},
    }


def _joined(layout: Layout, cells: Sequence[str]) -> str:
    texts = [f'"{cell}"' for cell in cells] if layout.quoted else cells
    return layout.delimiter.join(texts) + (layout.delimiter if layout.trailing else "")


LAYOUTS: dict[str, Layout] = {
    "semicolon, decimal comma, German": Layout(
        preamble=("Klimaschreiber {serial}", "Messwerte: {n}", "Zeitraum: {first:%d.%m.%Y} bis {last:%d.%m.%Y}", ""),
        times=("{t:%d.%m.%Y %H:%M}",),
        header=("Datum/Uhrzeit", "rel. Feuchte [%]", "Temperatur [°C]"),
        delimiter=";",
        decimal=",",
        encoding="utf-8-sig",
        newline="\r\n",
    ),
    "one sensor below the other": Layout(
        preamble=("Hub;{serial}",),
        times=("{t:%Y-%m-%d %H:%M}",),
        header=("sensor", "time", "humidity %", "temperature C"),
        form="one below the other",
    ),
    "ISO with offset": Layout(
        times=("{t:%Y-%m-%dT%H:%M:%S}{offset}",),
        header=("time", "relative humidity (%)", "air temperature (°C)"),
    ),
    "tab, two time columns, French": Layout(
        preamble=("Enregistreur n° {serial}", "Température en °C, humidité relative en %"),
        times=("{t:%d/%m/%Y}", "{t:%H:%M:%S}"),
        header=("Date", "Heure", "Humidité (%)", "Température (°C)"),
        delimiter="\t",
        decimal=",",
        encoding="cp1252",
        newline="\r\n",
    ),
    "two sensors side by side": Layout(
        preamble=("# twin recorder {serial}",),
        times=("{t:%Y-%m-%d %H:%M}",),
        header=("Time", "{channel} humidity", "{channel} temperature"),
        units=("", "%RH", "°C"),
        delimiter=";",
        form="side by side",
    ),
    "UTF-16, Italian": Layout(
        preamble=("Strumento {serial}",),
        times=("{t:%d/%m/%Y %H:%M}",),
        header=("Data e ora", "Umidità relativa %", "Temperatura °C"),
        delimiter="\t",
        decimal=",",
        encoding="utf-16-le",
        newline="\r\n",
    ),
    "newest first, Dutch": Layout(
        times=("{t:%d-%m-%Y %H:%M}",),
        header=("Datum en tijd", "Temperatuur (°C)", "Relatieve vochtigheid (%)"),
        footer=("", "Aantal;{n}", "Gemiddelde vochtigheid;{mean}", "Minimum;{least}", "Maximum;{most}"),
        delimiter=";",
        decimal=",",
        newest_first=True,
        temperature_first=True,
    ),
    "epoch seconds": Layout(
        times=("{epoch}",),
        header=("epoch_s", "rh_percent", "temp_c"),
        delimiter="|",
    ),
    "month first, Fahrenheit": Layout(
        preamble=('"Recorder","{serial}"', '"Readings","{n}"'),
        times=("{t.month}/{t.day}/{t.year} {hour12}:{t:%M:%S} {half}",),
        header=("No.", "Date and time", "Temperature (°F)", "Humidity (%RH)"),
        newline="\r\n",
        fahrenheit=True,
        numbered=True,
        temperature_first=True,
        encoding="cp1252",
    ),
    "UTC, comment lines": Layout(
        preamble=("# serial {serial}", "# all times are UTC", "# first {first:%Y-%m-%d}, last {last:%Y-%m-%d}"),
        times=("{t:%Y-%m-%dT%H:%M:%SZ}",),
        header=("timestamp", "RH", "T"),
        units=("", "%", "degC"),
        utc=True,
        digits=2,
    ),
    "units row, trailing comma": Layout(
        preamble=("Serial number,{serial},", ","),
        times=("{t:%Y/%m/%d}", "{t:%H:%M}"),
        header=("Date", "Time", "RH", "Temp"),
        units=("", "", "%", "°C"),
        trailing=True,
    ),
    "quoted decimal commas, Spanish": Layout(
        times=("{t:%d/%m/%Y %H:%M}",),
        header=("Fecha y hora", "Humedad relativa (%)", "Temperatura (°C)"),
        decimal=",",
        quoted=True,
    ),
    "two-digit years, German": Layout(
        preamble=("Nr.: {serial}", "Standort: Rahmen"),
        times=("{t:%d.%m.%y %H:%M:%S}",),
        header=("Zeitpunkt", "Temp. °C", "r.F. %"),
        delimiter=";",
        decimal=",",
        encoding="cp1252",
        newline="\r\n",
        temperature_first=True,
    ),
    "month names": Layout(
        preamble=("Serial {serial}",),
        times=("{t:%d} {month} {t:%Y} {t:%H:%M}",),
        header=("Logged at", "Humidity %RH", "Temperature degC"),
        delimiter="\t",
    ),
    "ISO without zone": Layout(
        preamble=("device,{serial}",),
        times=("{t:%Y-%m-%d %H:%M:%S}",),
        header=("date_time", "temperature [°C]", "relative_humidity [%]"),
        temperature_first=True,
    ),
}
