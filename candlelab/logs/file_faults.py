"""What is said of files, and of workbooks, that are missing or cannot be read; as ``FAULTS``."""

from __future__ import annotations

from candlelab.logs.problems import LOOK, MUST_FIX

# fmt: off
FILE_FAULTS = {
    # files
    "no batch in this folder": (
        MUST_FIX, "", "{found}", "{expected}", "Give the folder that holds these files; {hint}"),
    "missing file": (MUST_FIX, "", "{found}", "a file {name}", "{do}"),
    "misnamed file": (LOOK, "", "{found}", "a file {name}", "{do}"),
    "table not known": (LOOK, "", "", "{expected}",
        "It was not read; keep it if it is your own."),
    "file was not read": (
        LOOK, "", "{found}", "{name}",
        "It was not read: put what it holds into {name}, or move it out of the folder."),
    "file too large": (
        MUST_FIX, "", "{size:,} bytes", "at most {most:,} bytes",
        "Split the batch into several, or look whether it is another file. It was not read."),
    "file cannot be opened": (
        MUST_FIX, "", "{found}", "a file that can be read",
        "Close it in other programs, or fix its permissions."),
    "wrong encoding": (
        MUST_FIX, "", "{found}", "UTF-8 text", "Save the table again as CSV UTF-8."),
    "not UTF-8": (
        LOOK, "", "{found}", "UTF-8 text",
        "Read as Windows-1252: check the accented letters, or save the table as CSV UTF-8."),
    "NUL byte": (
        MUST_FIX, "", "a byte of value 0", "UTF-8 text",
        "Save the table again as CSV UTF-8; the file is damaged or is not a CSV file."),
    "empty file": (
        MUST_FIX, "", "", "a header line and rows",
        "Put the table back, or delete the file if the batch has no such table."),
    "nothing burned yet": (
        MUST_FIX, "", "", "a row for each burn", "Log the first burns, then ask again."),
    # workbooks
    "no workbook": (
        MUST_FIX, "", "{found}", "a workbook (.xlsx or .ods)",
        "Open it in a spreadsheet program and save it as a workbook again. It was not read."),
    "damaged workbook": (
        MUST_FIX, "", "{found}", "a workbook that opens",
        "Open it in a spreadsheet program and save it again, or take an older copy. It was not "
        "read."),
    "workbook that is not opened": (
        MUST_FIX, "", "{found}", "a workbook as spreadsheet programs write them",
        "Open it in a spreadsheet program and save it again. It was not read."),
    "workbook with a password": (
        MUST_FIX, "", "a locked workbook", "a workbook without a password",
        "Take the password for opening off. It was not read."),
    "workbook of an older kind": (
        MUST_FIX, "", "an older kind of workbook", "a workbook (.xlsx or .ods)",
        "Save it as .xlsx or .ods. It was not read."),
    "workbook too large": (
        MUST_FIX, "", "{found}", "a workbook of one batch",
        "Look for cells far below or to the right of the tables and delete them, or save the "
        "tables as CSV. It was not read."),
    "workbook without a table": (
        MUST_FIX, "", "the sheets {found}", "sheets named {names}",
        "Name each sheet as its table, or move the workbook out of the folder."),
    "more than one workbook": (
        MUST_FIX, "", "{found}", "one workbook",
        "Keep the one that you log in, and move the others out of the folder. None was read."),
    "table in two places": (
        MUST_FIX, "", "the sheet {sheet} and {file}", "one of the two",
        "Delete the sheet, or move {file} out of the folder: they do not hold the same. Neither "
        "was read."),
    "sheet of another name": (
        "{level}", "", "{found}", "a sheet named {name}",
        "Rename the sheet to {name} if it holds that table. It was not read."),
    "two sheets for one table": (
        MUST_FIX, "", "{found}", "one sheet for {name}",
        "Keep one of the two, or put their rows together. The second was not read."),
    "empty sheet": (
        MUST_FIX, "", "", "a heading for each column, and rows", "Fill the sheet in."),
    "second heading row": (
        MUST_FIX, "", "{found}", "one row of headings",
        "Put what stands there into the row of headings, the unit behind the name as in "
        "wall_c, and delete this row."),
    "hidden rows": (
        LOOK, "", "{found}", "every row in sight",
        "They were read as well: show them and look, delete those that do not belong there."),
    "formula with an error": (
        MUST_FIX, "", "{found}", "a value", "Correct the formula, or type the reading over it."),
    "formula without a value": (
        MUST_FIX, "", "{found}", "the value that the formula gives",
        "Open the workbook in a spreadsheet program and save it, so that it is worked out."),
    "merged cells": (
        MUST_FIX, "", "{found}", "a cell of its own in every row",
        "Unmerge these cells and fill in each of them."),
}
# fmt: on
