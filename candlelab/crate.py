"""``ro-crate-metadata.json``: RO-Crate 1.1 with Process Run Crate 0.5, by the library rocrate.

Ids are fixed and no moment of the clock is in it, so the same pack gives the same bytes. The crate's
date is the last day on which a candle burnt.
"""

from __future__ import annotations

from dataclasses import dataclass

PROCESS_RUN = "https://w3id.org/ro/wfrun/process/0.5"
_KINDS = {
    ".csv": "text/csv", ".toml": "application/toml", ".json": "application/json", ".ipynb": "application/x-ipynb+json",
    ".html": "text/html", ".txt": "text/plain",
}  # fmt: skip


@dataclass(frozen=True)
class Run:
    """One report in the pack: what went in, what ran, what came out, all by their names in the pack."""

    name: str
    title: str
    studio: str
    inputs: tuple[str, ...]
    notebook: str
    outputs: tuple[str, ...]
    parameters: tuple[tuple[str, str], ...]
    version: str


def crate_metadata(title: str, description: str, day: str, runs: list[Run], names: dict[str, str]) -> dict:
    """The crate as plain data. ``names`` gives every file of the pack with a few words on it."""
    from rocrate.model.contextentity import ContextEntity
    from rocrate.rocrate import ROCrate

    crate = ROCrate(version="1.1")

    def add(identifier: str, kind: str, **properties):
        entity = crate.add(ContextEntity(crate, identifier, properties={"@type": kind}))
        for key, value in properties.items():
            if value not in ("", [], None):
                entity[key] = value
        return entity

    crate.name, crate.description, crate.datePublished = title, description, day
    crate.license = add("#licence", "CreativeWork", name="No licence is named", description="Ask the studio before passing this on.")
    profile = add(PROCESS_RUN, "CreativeWork", name="Process Run Crate", version="0.5")
    crate.root_dataset["conformsTo"] = profile
    studios = {name: add(f"#studio-{n}", "Organization", name=name) for n, name in enumerate(dict.fromkeys(r.studio for r in runs if r.studio), 1)}
    if studios:
        crate.root_dataset["author"] = crate.publisher = _one(list(studios.values()))
    files = {}
    notebooks = {run.notebook: run.version for run in runs}
    for path, words in sorted(names.items()):
        kind = _KINDS["." + path.rpartition(".")[2]]
        code = {"@type": ["File", "SoftwareSourceCode"], "programmingLanguage": "Python", "version": notebooks[path]} if path in notebooks else {}
        files[path] = crate.add_file(dest_path=path, properties={"name": words, "encodingFormat": kind, **code})
    programs = {v: add(f"#candlelab-{v}", "SoftwareApplication", name="candlelab", version=v) for v in dict.fromkeys(run.version for run in runs)}
    actions = []
    for n, run in enumerate(runs, start=1):
        values = [add(f"#run-{n}-parameter-{m}", "PropertyValue", name=key, value=value) for m, (key, value) in enumerate(run.parameters, start=1)]
        actions.append(
            add(
                f"#run-{n}", "CreateAction", name=f"Report on {run.name}", instrument=programs[run.version], agent=studios.get(run.studio),
                description=f"candlelab {run.version} read the tables of “{run.title}”, worked out the numbers and made the page.",
                object=[*(files[name] for name in run.inputs), *values], result=[files[name] for name in run.outputs],
                actionStatus="http://schema.org/CompletedActionStatus",
            )
        )  # fmt: skip
    crate.root_dataset["mentions"] = _one(actions)
    return crate.metadata.generate()


def _one(values: list):
    return values[0] if len(values) == 1 else values
