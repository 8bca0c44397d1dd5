"""``ro-crate-metadata.json`` has the shape that RO-Crate 1.1 and Process Run Crate 0.5 require.

The rules are read from the two published specifications (researchobject.org/ro-crate/1.1 and
w3id.org/ro/wfrun/process/0.5), the MUST-level ones; a validator needs the network for the JSON-LD
context.
"""

import json
import re
from urllib.parse import unquote

import pytest
from packs import contents_of

from candlelab.share.descriptions import Run, crate_metadata


@pytest.fixture(scope="module")
def crate(pack):
    return json.loads(contents_of(pack)["ro-crate-metadata.json"])


@pytest.fixture(scope="module")
def entities(crate):
    return {entity["@id"]: entity for entity in crate["@graph"]}


def as_list(value):
    return value if isinstance(value, list) else [] if value is None else [value]


def ids(value):
    return [one["@id"] for one in as_list(value)]


def test_the_metadata_file_and_the_root(crate, entities):
    assert set(crate) == {"@context", "@graph"}
    assert crate["@context"] == "https://w3id.org/ro/crate/1.1/context"
    descriptor, root = entities["ro-crate-metadata.json"], entities["./"]
    assert descriptor["@type"] == "CreativeWork"
    assert ids(descriptor["about"]) == ["./"]
    assert ids(descriptor["conformsTo"]) == ["https://w3id.org/ro/crate/1.1"]
    assert root["@type"] == "Dataset"
    assert root["name"]
    assert root["description"]
    assert root["datePublished"] == "2026-03-11"  # the last day on which a candle burned
    assert entities[ids(root["license"])[0]]["name"]


def test_every_reference_leads_to_an_entity_and_every_file_is_in_the_pack(crate, entities, pack):
    assert len(entities) == len(crate["@graph"])
    outside = {"https://w3id.org/ro/crate/1.1", "http://schema.org/CompletedActionStatus"}
    for entity in crate["@graph"]:
        assert entity["@type"]
        for key, value in entity.items():
            assert not isinstance(value, list) or len(value) != 1 or key in ("hasPart", "@type"), (
                f"{key} of one item"
            )
            for one in as_list(value):
                if isinstance(one, dict):
                    assert set(one) == {"@id"}
                    assert one["@id"] in entities.keys() | outside
    files = {unquote(e["@id"]) for e in crate["@graph"] if "File" in as_list(e["@type"])}
    assert files == set(contents_of(pack)) - {"ro-crate-metadata.json"}
    assert {unquote(i) for i in ids(entities["./"]["hasPart"])} == files


def test_the_process_run(entities):
    profile = entities[ids(entities["./"]["conformsTo"])[0]]
    assert profile == {
        "@id": "https://w3id.org/ro/wfrun/process/0.5",
        "@type": "CreativeWork",
        "name": "Process Run Crate",
        "version": "0.5",
    }
    (action,) = [e for e in entities.values() if e["@type"] == "CreateAction"]
    assert ids(entities["./"]["mentions"]) == [action["@id"]]
    (program,) = [entities[i] for i in ids(action["instrument"])]
    assert program["@type"] == "SoftwareApplication"
    assert program["name"] == "candlelab"
    assert program["version"]
    inputs = ids(action["object"])
    assert "batches/confirmation/burns.csv" in inputs
    assert "#run-1-parameter-1" in inputs
    assert entities["#run-1-parameter-1"] == {
        "@id": "#run-1-parameter-1",
        "@type": "PropertyValue",
        "name": "batch_folder",
        "value": "../../batches/confirmation",
    }
    assert set(ids(action["result"])) == {
        f"reports/confirmation/{n}"
        for n in ("batch_report.html", "batch_report.ipynb", "results.json")
    }
    assert action["name"]
    assert action["description"]
    assert entities[ids(action["agent"])[0]]["@type"] == "Organization"


def test_no_moment_of_the_clock_and_no_random_name_is_in_it(crate):
    text = json.dumps(crate)
    assert not re.search(r"\d\d:\d\d:\d\d", text)
    assert not re.search(r"[0-9a-f]{8}-[0-9a-f]{4}", text)


def test_names_of_other_scripts_are_addresses():
    run = Run(
        "蝋 燭",
        "t",
        "",
        ("batches/蝋 燭/a.csv",),
        "reports/蝋 燭/n.ipynb",
        ("reports/蝋 燭/n.ipynb",),
        (),
        "1",
    )
    made = crate_metadata(
        "t", "d", "2026-01-01", [run], {"batches/蝋 燭/a.csv": "a", "reports/蝋 燭/n.ipynb": "n"}
    )
    assert all(entity["@id"].isascii() and " " not in entity["@id"] for entity in made["@graph"])
    assert not [e for e in made["@graph"] if e["@type"] == "Organization"]
