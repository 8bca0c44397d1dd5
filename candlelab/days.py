"""A day in words, in the reader's language. Names and order are those of Unicode CLDR."""

from __future__ import annotations

_MONTHS = {
    "en": "January February March April May June July August September October November December",
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre "
    "diciembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre "
    "dicembre",
    "nl": "januari februari maart april mei juni juli augustus september oktober november december",
    "pt": "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro "
    "dezembro",
}
_WEEKDAYS = {
    "en": "Monday Tuesday Wednesday Thursday Friday Saturday Sunday",
    "de": "Montag Dienstag Mittwoch Donnerstag Freitag Samstag Sonntag",
    "fr": "lundi mardi mercredi jeudi vendredi samedi dimanche",
    "es": "lunes martes miércoles jueves viernes sábado domingo",
    "it": "lunedì martedì mercoledì giovedì venerdì sabato domenica",
    "nl": "maandag dinsdag woensdag donderdag vrijdag zaterdag zondag",
    "pt": "segunda-feira terça-feira quarta-feira quinta-feira sexta-feira sábado domingo",
}
LANGUAGES = tuple(_MONTHS)
MONTH_FIRST = "month day year"
# Day and month, what parts them from the year, and what parts the weekday from all of it.
_FORMS = {
    "de": ("{day}. {month}", " ", ", "),
    "es": ("{day} de {month}", " de ", ", "),
    "pt": ("{day} de {month}", " de ", ", "),
    MONTH_FIRST: ("{month} {day}", ", ", ", "),
}


def day_words(
    day, language: str = "", order: str = "", *, weekday: bool = False, year: bool = True
) -> str:
    """A day as it is written in a language: "21 September 2026", "21 de septiembre de 2026".

    Parameters
    ----------
    day : datetime.date or pandas.Timestamp
        The day.
    language : str
        One of `LANGUAGES`; English when empty.
    order : str
        "month day year" asks for "September 21, 2026", in English; every other language has one
        order.
    weekday, year : bool
        Whether they are said.
    """
    language = language or "en"
    form = MONTH_FIRST if (language, order) == ("en", MONTH_FIRST) else language
    pattern, before_year, after_weekday = _FORMS.get(form, ("{day} {month}", " ", " "))
    text = pattern.format(day=day.day, month=_MONTHS[language].split()[day.month - 1])
    if year:
        text += f"{before_year}{day.year}"
    if not weekday:
        return text
    return f"{_WEEKDAYS[language].split()[day.weekday()]}{after_weekday}{text}"
