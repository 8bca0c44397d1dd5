"""Scores of scent that are broken, each with all that its user should read; some read well."""

import shutil

import pytest
from places import BROKEN

from candlelab.logs.batch import check_batch, read_batch
from candlelab.logs.problems import MUST_FIX, problem_lines

WORDS = '\n[scent]\nwords = ["nothing", "faint", "clear", "strong", "very strong"]\n'
CODES = "code,candle\n417,A1\n286,A2\n"
HEAD = "candle,burn,assessor,score\n"

# What is written, and the lines that a terminal shows.
BROKEN_TABLES = {
    "a score off the scale of numbers": (
        {"throw.csv": HEAD + "A1,1,P1,11\n"},
        ["must fix: throw.csv, line 2, candle A1, column score: score off the scale. Found 11. "
         "Expected 0 to 10. Correct the score, or the scale in [scent] of batch.toml."],
    ),
    "a score off the scale of words": (
        {"batch.toml": WORDS, "throw.csv": HEAD + "A1,1,P1,5\n"},
        ["must fix: throw.csv, line 2, candle A1, column score: score off the scale. Found 5. "
         "Expected 0 to 4 (nothing, faint, clear, strong and very strong). Correct the score, or "
         "the scale in [scent] of batch.toml."],
    ),
    "a word that is not on the scale": (
        {"batch.toml": WORDS, "throw.csv": HEAD + "A1,1,P1,stong\n"},
        ["must fix: throw.csv, line 2, candle A1, column score: no word of the scale. Found stong. "
         "Expected a word of the scale or its number: nothing, faint, clear, strong or very "
         "strong. Did you mean 'strong'? Else use one of these words."],
    ),
    "words where the scale has none": (
        {"throw.csv": HEAD + "A1,1,P1,strong\n"},
        ["must fix: throw.csv, line 2, candle A1, column score: text where a number belongs. Found "
         "strong. Expected a number, or an empty cell for no reading. Write the number only; its "
         "unit stands in the column's name, remarks go to the note."],
    ),
    "a score between two words": (
        {"batch.toml": WORDS, "throw.csv": HEAD + "A1,1,P1,2.5\n"},
        ["look at this: throw.csv, line 2, candle A1, column score: score between two steps. Found "
         "2.5. Expected a whole step of the scale. It counts as it stands."],
    ),
    "a score below nothing": (
        {"throw.csv": HEAD + "A1,1,P1,-1\n"},
        ["must fix: throw.csv, line 2, candle A1, column score: impossible value. Found -1. "
         "Expected 0 to 1000. Check the number and the unit in the column's name."],
    ),
    "no score and no rank": (
        {"throw.csv": HEAD + "A1,1,P1,\n"},
        ["must fix: throw.csv, line 2, candle A1, column score: no score in this row. Expected a "
         "score or a rank. Fill it in, or take the row out."],
    ),
    "no column of scores": (
        {"throw.csv": "candle,burn,assessor\nA1,1,P1\n"},
        ["must fix: throw.csv, line 1, column score: missing column. Expected a column score, or a "
         "column rank. Add the column score."],
    ),
    "nobody smelled": (
        {"throw.csv": "candle,burn,score\nA1,1,4\n"},
        ["must fix: throw.csv, line 1, column assessor: missing column. Expected a column "
         "assessor: who smelled, by a code and not a name. Add the column assessor."],
    ),
    "a row without its nose": (
        {"throw.csv": HEAD + "A1,1,,4\n"},
        ["must fix: throw.csv, line 2, candle A1, column assessor: empty cell. Expected who "
         "smelled, by a code and not a name. Fill the cell in."],
    ),
    "no candle and no code": (
        {"throw.csv": "burn,assessor,score\n1,P1,4\n"},
        ["must fix: throw.csv, line 1, column candle: missing column. Expected a column candle, or "
         "a column code with codes.csv. Add the column candle."],
    ),
    "a row without candle and code": (
        {"throw.csv": "candle,code,burn,assessor,score\n,,1,P1,4\n", "codes.csv": CODES},
        ["must fix: throw.csv, line 2, column candle: neither candle nor code. Expected a candle, "
         "or a code of codes.csv. Fill one of the two in."],
    ),
    "a candle that nobody poured": (
        {"throw.csv": HEAD + "A9,1,P1,4\n"},
        ["must fix: throw.csv, line 2, candle A9, column candle: unknown candle. Found A9. "
         "Expected a candle of candles.csv. Correct the name, or add the candle to candles.csv."],
    ),
    "a code that the key has not": (
        {"throw.csv": "code,burn,assessor,score\n471,1,P1,4\n", "codes.csv": CODES},
        ["must fix: throw.csv, line 2, column code: code of no candle. Found 471. Expected a code "
         "of codes.csv. Did you mean '417'? Else add the code to codes.csv."],
    ),
    "a key that is still closed": (
        {"throw.csv": "code,burn,assessor,score\n417,1,P1,4\n286,1,P1,4\n"},
        ["look at this: throw.csv, line 2, column code: key still closed. Found 2 rows with a "
         "code. Expected codes.csv, which says whose codes these are. Put it in when all scores "
         "are in. Until then these rows are not used."],
    ),
    "a code beside another candle": (
        {"throw.csv": "candle,code,burn,assessor,score\nA2,417,1,P1,4\n", "codes.csv": CODES},
        ["must fix: throw.csv, line 2, candle A2, column code: candle and code do not agree. Found "
         "417 beside A2. Expected A1, as codes.csv has it. Correct the candle or the code."],
    ),
    "one code for two candles": (
        {"codes.csv": "code,candle\n417,A1\n417,A2\n"},
        ["must fix: codes.csv, line 3, candle A2, column code: row given twice. Found code 417. "
         "Expected each only once. Remove one of the two rows (the first is on line 2), or correct "
         "its number."],
    ),
    "a code that tells the candle": (
        {"codes.csv": "code,candle\nA1,A1\n"},
        ["look at this: codes.csv, line 2, candle A1, column code: code that hides nothing. Found "
         "A1. Expected a code that does not tell the candle. Use three digits drawn by lot: a name "
         "that is known is scored for itself."],
    ),
    "hot throw of no burn": (
        {"throw.csv": "candle,burn,assessor,score,lit\nA1,,P1,4,yes\n"},
        ["must fix: throw.csv, line 2, candle A1, column burn: hot throw without its burn. "
         "Expected the burn in which it was smelled. Fill in the burn, or write no in the column "
         "lit."],
    ),
    "a burn that was not burned": (
        {"throw.csv": HEAD + "A1,7,P1,4\n"},
        ["must fix: throw.csv, line 2, candle A1, column burn: burn that does not exist. Found 7. "
         "Expected at most 2, the candle's last burn in burns.csv. Correct the number, or add the "
         "burn to burns.csv."],
    ),
    "cold throw after a burn": (
        {"throw.csv": "candle,burn,assessor,score,lit\nA1,1,P1,4,no\n"},
        ["throw.csv, line 2, candle A1, column lit: cold throw after a burn. Found no, with burn "
         "1. Expected cold throw before the first burn, burn empty. Its numbers count; smell cold "
         "throw before the candle is lit."],
    ),
    "a cold candle that was lit": (
        {"throw.csv": "candle,assessor,score,lit,since_lit_min\nA1,P1,4,no,60\n"},
        ["look at this: throw.csv, line 2, candle A1, column since_lit_min: time since lighting of "
         "a cold candle. Found 60 min. Expected nothing where lit is no. Correct one of the two."],
    ),
    "two candles smelled third": (
        {"throw.csv": "candle,burn,assessor,score,session,order\nA1,1,P1,4,am,3\nA2,1,P1,5,am,3\n"},
        ["must fix: throw.csv, line 3, candle A2, column order: two candles at one place. Found 3 "
         "for P1 in session am. Expected each place once. Number what was smelled in the order in "
         "which it was smelled."],
    ),
    "ranks with two firsts": (
        {"throw.csv": "candle,burn,assessor,rank\nA1,1,P1,1\nA2,1,P1,1\n"},
        ["must fix: throw.csv, line 2, candle A1, column rank: ranks that are no order. Found 1 "
         "and 1 by P1. Expected 1 to 2, each once; ties share the middle. Correct the ranks of "
         "this session."],
    ),
    "one score given twice": (
        {"throw.csv": HEAD + "A1,1,P1,4\nA1,1,P1,5\n"},
        ["must fix: throw.csv, line 3, candle A1, column assessor: row given twice. Found candle "
         "A1, burn 1, assessor P1. Expected each only once. Remove one of the two rows (the first "
         "is on line 2), or correct its number."],
    ),
    "names of people": (
        {"throw.csv": HEAD + "A1,1,Ann Other,4\n"},
        ["look at this: throw.csv, line 2, candle A1, column assessor: name in place of a code. "
         "Found Ann Other. Expected a code such as P1. Use a code: names of people do not belong "
         "in a file that may be shared."],
    ),
    "one nose in two spellings": (
        {"throw.csv": HEAD + "A1,1,P1,4\nA2,1,p 1,4\n"},
        ["must fix: throw.csv, line 3, candle A2, column assessor: assessor spelled in two ways. "
         "Found p 1. Expected one spelling; there is also P1. Write both alike if they are one "
         "person."],
    ),
    "a pair of one candle": (
        {"pairs.csv": "assessor,first,second,stronger\nP1,A1,A1,A1\n"},
        ["must fix: pairs.csv, line 2, column second: smelled beside itself. Found A1. Expected "
         "another candle than the first. Correct one of the two."],
    ),
    "a pair won by a third": (
        {"pairs.csv": "assessor,first,second,stronger\nP1,417,286,A3\n", "codes.csv": CODES},
        ["must fix: pairs.csv, line 2, column stronger: neither of the two. Found A3. Expected A1 "
         "or A2. Name one of the two."],
    ),
    "a blank check of a code that the key has not": (
        {"pairs.csv": "assessor,first,second,stronger\nP1,417,471,417\n", "codes.csv": CODES},
        ["must fix: pairs.csv, line 2, column second: code of no candle. Found 471. Expected a "
         "code of codes.csv. Add the code to codes.csv."],
    ),
    "a nose in two spellings among pairs": (
        {"pairs.csv": "assessor,first,second,stronger\nP1,A1,A2,A1\np 1,A2,A1,A1\n"},
        ["must fix: pairs.csv, line 3, column assessor: assessor spelled in two ways. Found p 1. "
         "Expected one spelling; there is also P1. Write both alike if they are one person."],
    ),
    "a pair without who smelled": (
        {"pairs.csv": "assessor,first,second,stronger\n,A1,A2,A1\n"},
        ["must fix: pairs.csv, line 2, column assessor: empty cell. Expected who smelled, by a "
         "code and not a name. Fill the cell in."],
    ),
    "a scale in numbers of no size": (
        {"batch.toml": "\n[scent]\nhighest = 'ten'\nmarginn = 1\n"},
        ["must fix: batch.toml, line 14, setting scent.highest: text where a number belongs. Found "
         "ten. Expected a number without quotes. Write the number only; its unit stands in the "
         "name.",
         "must fix: batch.toml, line 15, setting scent.marginn: unknown setting. Found marginn. "
         "Expected one of words, highest, margin, step, noses, sessions, candles_a_session, "
         "repeats, blank_checks, rest_min, place, distance_m. Did you mean 'margin'? Else take it "
         "out."],
    ),
}  # fmt: skip


def folder_with(tmp_path, files):
    folder = tmp_path / "batch"
    shutil.copytree(BROKEN / "nothing_wrong" / "batch", folder)
    for name, text in files.items():
        before = (folder / name).read_text() if name == "batch.toml" else ""
        (folder / name).write_text(before + text)
    return folder


def lines_of(folder):
    """Problems but those that this small batch always has: short burns, few columns of safety."""
    problems = check_batch(folder)
    own = problems["problem"].isin(["burns shorter than the standards'", "never written down"])
    return problem_lines(problems[~own])


def test_there_are_many_broken_tables():
    assert len(BROKEN_TABLES) >= 20


@pytest.mark.slow
@pytest.mark.parametrize("name", BROKEN_TABLES)
def test_a_broken_table_says_what_is_wrong_and_nothing_else(tmp_path, name):
    files, expected = BROKEN_TABLES[name]
    found = lines_of(folder_with(tmp_path, files))
    assert [line.partition(": ")[2] if line.startswith(("protocol: ", "off plan: ")) else line
            for line in found] == expected  # fmt: skip


def test_words_numbers_codes_and_blind_repeats_read_well(tmp_path):
    throw = "code,burn,assessor,score,session,order,lit,since_lit_min,blocked_nose\n"
    throw += "417,1,P1,Very strong,am,1,yes,60,no\n286,1,P1,1,am,2,yes,65,no\n"
    throw += "905,1,P1,strong,am,3,yes,70,no\n417,,P1,faint,cold,1,no,,\n"
    codes = CODES + "905,A1\n"
    pairs = "session,assessor,first,second,stronger\nam,P1,417,286,417\n"
    files = {"batch.toml": WORDS, "throw.csv": throw, "codes.csv": codes, "pairs.csv": pairs}
    folder = folder_with(tmp_path, files)
    assert lines_of(folder) == []
    batch = read_batch(folder)
    assert batch.throw["candle"].tolist() == ["A1", "A2", "A1", "A1"]
    assert batch.throw["score"].tolist() == [4, 1, 3, 1]
    assert batch.pairs[["first", "second", "stronger"]].iloc[0].tolist() == ["A1", "A2", "A1"]
    assert (folder / "throw.csv").read_text() == throw


def test_prices_are_read_in_any_unit_of_mass(tmp_path):
    prices = "\n[prices]\ncurrency = 'EUR'\nwax_price = 62\nwax_bought_kg = 10\nwick_price = 0.2\n"
    batch = read_batch(folder_with(tmp_path, {"batch.toml": prices}))
    assert batch.settings.prices.wax_bought_g == 10_000
    assert batch.settings.prices.wicks_bought == 1.0
    wrong = "\n[prices]\nwax_bought_kg = 0\nvessel_price = -2\n"
    found = check_batch(folder_with(tmp_path / "b", {"batch.toml": wrong}))
    assert found[found["level"] == MUST_FIX]["column"].tolist() == [
        "prices.wax_bought_kg", "prices.vessel_price",
    ]  # fmt: skip
