"""What the headings of logger files are called in ten languages, as data.

Words are compared in lower case and without accents. A *stem* is found inside a longer word (`Raumtemperatur`);
a *word* must stand alone, because it is short (`rh`). A word may mean several things: the values decide then.
"""

from __future__ import annotations

from typing import Literal

Quantity = Literal[
    "relative humidity", "temperature", "dew point", "moment", "date", "clock", "year", "month", "day", "hour",
    "minute", "second", "day of year", "sensor", "quantity", "value", "unit", "record", "other",
]  # fmt: skip

# Searched in this order: what merely contains "humidity" or "temperature" comes first.
PHRASES: tuple[tuple[Quantity, tuple[str, ...]], ...] = (
    ("other", (
        "absolute humidity", "abs humidity", "absolute feuchte", "abs feuchte", "absolute luftfeuchte",
        "absolute luftfeuchtigkeit", "humidite absolue", "absolute vochtigheid", "absolute luchtvochtigheid",
        "humedad absoluta", "umidita assoluta", "absolut fugtighed", "absolutt fuktighet", "absolut fuktighet",
        "absolut luftfuktighet", "absoluuttinen kosteus", "specific humidity", "mixing ratio", "wet bulb",
        "feuchtkugel", "bulbe humide", "natteboltemperatuur", "bulbo humedo", "bulbo umido", "vad temperatur",
        "vapour pressure", "vapor pressure", "dampfdruck", "set point", "setpoint", "sollwert", "alarm",
        "heat index", "surface temperature", "soil", "frost point", "device temperature", "cpu temp",
        "board temperature", "geratetemperatur", "wood moisture", "holzfeuchte", "material moisture",
        "host connect", "end of file", "coupler", "stopped", "button",
    )),
    ("dew point", (
        "dew point", "dewpoint", "taupunkt", "point de rosee", "pt rosee", "dauwpunt", "punto de rocio",
        "punto rocio", "punto di rugiada", "punto rugiada", "dugpunkt", "duggpunkt", "daggpunkt", "kastepiste",
    )),
    ("day of year", ("day of year", "julian day", "jour de l annee", "tag des jahres", "dagnummer", "dia juliano")),
    ("moment", (
        "date time", "datetime", "date and time", "date heure", "date et heure", "datum zeit", "datum uhrzeit",
        "datum und uhrzeit", "datum tijd", "datum en tijd", "fecha hora", "fecha y hora", "data ora", "data e ora",
        "dato tid", "dato og tid", "dato klokkeslaet", "datum tid", "datum och tid", "datum klockslag",
        "dato klokkeslett", "pvm klo", "paivamaara ja aika", "paiva ja aika", "timestamp", "time stamp",
        "zeitstempel", "zeitpunkt", "messzeitpunkt", "horodatage", "horodate", "tijdstip", "tijdstempel",
        "marca de tiempo", "marca temporal", "tidspunkt", "tidsstempel", "tidsstampel", "tidpunkt", "aikaleima",
        "unix time", "unixtime", "epoch", "recorded at", "logged at", "date heures", "ajankohta",
    )),
)  # fmt: skip

STEMS: tuple[tuple[Quantity, tuple[str, ...]], ...] = (
    ("relative humidity", (
        "humidity", "humidite", "hygrometrie", "feuchte", "feuchtigkeit", "vochtigheid", "vocht", "humedad",
        "umidita", "fugtighed", "fugt", "fuktighet", "fukt", "kosteus", "humid", "humrel", "relhum",
    )),
    ("temperature", (
        "temperatur", "temperatuur", "temperatura", "temperature", "lampotila", "lampotil",
    )),
    ("date", ("datum", "paivamaara", "paivays")),
    ("clock", ("uhrzeit", "klokkeslaet", "klokkeslett", "klockslag", "kellonaika", "klokkeslat")),
)  # fmt: skip
# Looked for last: "Sensor 1 Temp" is a temperature.
SENSOR_STEMS = ("sensor", "kanal", "messstelle", "fuhler", "capteur", "sonda", "sonde", "anturi")

WORDS: dict[str, tuple[Quantity, ...]] = {
    **dict.fromkeys(("rh", "rlf", "rf", "rv", "hum", "hygro", "rhum", "humi", "relh", "feucht"),
                    ("relative humidity",)),
    "ur": ("relative humidity", "clock"), "hr": ("relative humidity", "hour"), "h": ("hour", "relative humidity"),
    **dict.fromkeys(("temp", "tmp", "ta", "tair", "tl"), ("temperature",)),
    "t": ("temperature", "clock", "moment"),
    **dict.fromkeys(("td", "tdew", "dp", "dew", "tp"), ("dew point",)),
    **dict.fromkeys(("date", "fecha", "dato", "pvm", "dat"), ("date", "moment")),
    "data": ("date", "moment", "other"),
    "time": ("clock", "moment", "hour"),
    **dict.fromkeys(("zeit", "tijd", "tid", "aika", "tiempo", "tempo", "messzeit"), ("clock", "moment")),
    **dict.fromkeys(("heure", "hora", "ora", "orario", "klo", "kl", "uur", "kello"), ("clock", "hour", "moment")),
    **dict.fromkeys(("year", "jahr", "annee", "jaar", "ano", "anno", "ar", "aar", "vuosi", "yyyy", "yr", "an"),
                    ("year",)),
    **dict.fromkeys(("month", "monat", "mois", "maand", "mes", "mese", "maned", "manad", "kuukausi", "mon", "kk"),
                    ("month",)),
    **dict.fromkeys(("day", "tag", "jour", "dag", "dia", "giorno", "paiva"), ("day", "date")),
    "doy": ("day of year",),
    **dict.fromkeys(("hour", "stunde", "timme", "tunti", "hh", "std"), ("hour",)),
    **dict.fromkeys(("minute", "minuut", "minuto", "minut", "minutt", "minuutti", "minuten"), ("minute",)),
    **dict.fromkeys(("second", "sekunde", "seconde", "segundo", "secondo", "sekund", "sekunti", "sec"), ("second",)),
    **dict.fromkeys(("channel", "probe", "logger", "device", "station", "location", "position", "name", "serial",
                     "place", "room", "gerat", "ort", "standort", "raum", "canal", "voie", "appareil", "lieu",
                     "emplacement", "kanaal", "plaats", "locatie", "ubicacion", "lugar", "canale", "luogo",
                     "posizione", "foler", "sted", "givare", "plats", "kanava", "paikka", "site", "id", "node",
                     "messort", "sonde", "fuhler", "lokation", "voeler", "rum", "where"),
                    ("sensor",)),
    **dict.fromkeys(("parameter", "quantity", "measurement", "variable", "messgrosse", "grosse", "grandeur",
                     "grootheid", "magnitud", "grandezza", "storrelse", "storhet", "suure", "measurand", "type",
                     "parametre", "parametro", "kind", "metric"), ("quantity",)),
    **dict.fromkeys(("value", "wert", "messwert", "valeur", "waarde", "valor", "valore", "vaerdi", "verdi", "varde",
                     "arvo", "reading", "mesure", "lectura"), ("value",)),
    **dict.fromkeys(("unit", "units", "einheit", "unite", "eenheid", "unidad", "unita", "enhed", "enhet", "yksikko"),
                    ("unit",)),
    **dict.fromkeys(("#", "no", "nr", "record", "index", "num", "number", "sample", "scan", "numero", "lopenr", "lfd",
                     "n", "row", "zeile", "count", "ligne", "riga", "fila", "rij", "rad", "rivi", "seq", "lp"),
                    ("record",)),
    **dict.fromkeys(("battery", "batt", "batterie", "batteri", "bateria", "batteria", "batterij", "akku", "paristo",
                     "voltage", "volt", "spannung", "pressure", "druck", "pression", "druk", "presion", "pressione",
                     "tryk", "trykk", "tryck", "paine", "co2", "lux", "light", "licht", "lumiere", "luz", "luce",
                     "status", "event", "ereignis", "flag", "flags", "quality", "comment", "remark", "bemerkung",
                     "voc", "wind", "rain", "uv", "signal", "rssi", "state", "note", "notes", "ah", "vpd",
                     "enthalpy", "remarque", "opmerking", "illuminance", "pm25", "noise", "accuracy",
                     "measuring", "elapsed"),
                    ("other",)),
}  # fmt: skip

STATISTICS: dict[str, str] = {
    **dict.fromkeys(("min", "minimum", "minimal", "minimo", "mini", "laagste", "lowest", "minimi", "minimaal",
                     "minst", "lagsta", "lavest"), "minimum"),
    **dict.fromkeys(("max", "maximum", "maximal", "massimo", "maximo", "maxi", "hoogste", "highest", "maks",
                     "maksimum", "maksimi", "maximaal", "hojest", "hogsta"),
                    "maximum"),
    **dict.fromkeys(("avg", "average", "mean", "mittel", "mittelwert", "durchschnitt", "moyenne", "moy", "media",
                     "promedio", "gemiddelde", "gem", "medelvarde", "medel", "gennemsnit", "gjennomsnitt", "middel",
                     "keskiarvo", "gemittelt", "mw", "middelvaerdi", "middelverdi", "valor medio"), "mean"),
    **dict.fromkeys(("std", "stdev", "stddev", "sd", "standardabweichung", "sigma", "variance", "deviation",
                     "ecart", "desviacion", "deviazione"), "spread"),
    **dict.fromkeys(("total", "sum", "summe", "count", "anzahl", "samples", "median", "range", "amplitude",
                     "readings", "end", "ende", "fin", "fine", "einde", "slut", "loppu", "statistics", "statistik",
                     "statistiques", "summary", "zusammenfassung", "resume", "eof", "checksum", "page", "seite",
                     "printed", "generated", "exported", "fini", "koniec", "ferdig", "faerdig", "fertig", "finished",
                     "datensatze", "records", "mkt"), "summary"),
}  # fmt: skip

_FILLERS = """
air luft aire aria lucht ilman rel relative relativ relativer relatieve relativa relatif suhteellinen value wert
reading measured gemessen of de des du la le der die das und and et y e en och og ja the deg degree degrees grad
celsius fahrenheit kelvin percent prozent pourcent procent prosentti c f k r lt gmt utc local lokal l ambient
ambiente ambiante umgebung current aktuell level niveau unit data %
"""
# Left out of a channel's label: they say nothing about which channel it is.
FILLERS = frozenset(_FILLERS.split())
