"""The command that reduces a record of an instrument and judges it.

Exit codes: 0 done, whatever the verdict; 2 unusable arguments or file.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from xlcalc.cli.bulk import DASK_TLS
from xlcalc.cli.terminal import FILE, OVERWRITE, PLOTS, out
from xlcalc.core.caution import CAUTION
from xlcalc.core.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

    from xlcalc.face.beside import Beside
    from xlcalc.face.judged import Asked
    from xlcalc.face.record import Record
    from xlcalc.standards.verdict import Judgement, Verdict

SHOWN_WINDOWS = 5_000
TABLES = ("summary", "findings", "verdicts", "difference", "inputs", "spectrum", "trend", "intervals")
IN_PROOF = ("trend", "intervals")
"""What a workbook of a proof holds on sheets of its own."""
CURRENT = "current"
VERDICT_COLUMNS = ("judged", "quantity", "order", "value", "limit", "unit", "verdict", "source", "verified")


@click.command("measure")
@click.argument("record", metavar="RECORD...", nargs=-1, required=True, type=FILE)
@click.option("--map", "record_map", type=FILE, help="What the channels are: .toml.")
@click.option("-o", "--output", required=True, type=FILE, help="Result: .xlsx, .csv or .parquet.")
@click.option("--demand-amps", type=click.FloatRange(0, min_open=True), help="Maximum demand current IL, A.")
@click.option("--isc-il", type=click.FloatRange(0, min_open=True), help="Short-circuit over demand current.")
@click.option("--kv", type=click.FloatRange(0, min_open=True), help="Nominal line-to-line voltage, kV.")
@click.option("--edition", type=click.Choice(["2014", "2022"]), default="2022", help="Of IEEE 519.")
@click.option("--en50160", type=click.Choice(["LV", "MV"]), help="Judge the voltages by EN 50160 as well.")
@click.option(
    "--iec61000-2-4",
    "plant_class",
    type=click.Choice(["1", "2", "3"]),
    help="Class: judge the voltages by it.",
)
@click.option("--hz", type=click.FloatRange(1, 1000), help="Frequency, where known; tracked if left out.")
@click.option("--study", type=FILE, help="Workbook of a study: compare with its prediction at this load.")
@click.option("--pcc", help="Where was recorded: a PCC of the study, if it has several.")
@click.option("--drive", help="Where was recorded: a drive of the study, by its tag.")
@click.option("--case", help="Case of the study, if it has several.")
@click.option("--workers", type=int, help="Processes for several records.")
@click.option("--dask", help="Address of a Dask scheduler for several records.")
@DASK_TLS
@PLOTS
@OVERWRITE
def measure(
    record: tuple[Path, ...],
    record_map: Path | None,
    output: Path,
    demand_amps: float | None,
    isc_il: float | None,
    kv: float | None,
    edition: str,
    en50160: str | None,
    plant_class: str | None,
    hz: float | None,
    study: Path | None,
    pcc: str | None,
    drive: str | None,
    case: str | None,
    workers: int | None,
    dask: str | None,
    dask_tls: tuple[Path, Path, Path] | None,
    plots: Path | None,
    overwrite: bool,
) -> None:
    """Reduce a recording or a log as IEC 61000-4-7 and -4-30 say, and judge it by percentiles.

    RECORD is COMTRADE (.cfg, .cff), a table of waveforms, or a log of 3 s or 10-minute values (.csv, .xlsx,
    .parquet). Currents are judged by IEEE 519 with --demand-amps, --isc-il and --kv, voltages with --kv. With
    --kv intervals with dips, swells and interruptions are flagged. With --study the currents, and at a PCC
    the voltages, are held against the prediction of a workbook at the load that was measured. Several records
    are reduced one by one, in processes or on a Dask cluster, and give a table with a row each.
    """
    from xlcalc.face.judged import Asked

    asked = Asked(
        demand_amps=demand_amps,
        isc_il=isc_il,
        kv=kv,
        edition=edition,
        en50160=en50160,
        plant_class=plant_class,
        hz=hz,
    )
    if len(record) > 1:
        if study is not None:
            raise InputError("--study", str(study), "one RECORD beside it")
        if plots is not None:
            raise InputError("--plots", str(plots), "one RECORD beside it")
        _many(record, record_map, output, asked, workers, dask, dask_tls, overwrite=overwrite)
        return
    place = {"pcc": pcc, "drive": drive, "case": case}
    _one(record[0], record_map, output, asked, study, place, plots, overwrite)


def _many(
    records: tuple[Path, ...],
    record_map: Path | None,
    output: Path,
    asked: Asked,
    workers: int | None,
    dask: str | None,
    dask_tls: tuple[Path, Path, Path] | None,
    *,
    overwrite: bool,
) -> None:
    from xlcalc.cli.bulk import open_pool
    from xlcalc.face.judged import measure_many
    from xlcalc.io.results.output import check_output, write_tables

    inputs = [*records, *([record_map] if record_map else [])]
    check_output(output, inputs, tables=["records"], overwrite=overwrite)
    with open_pool(workers, dask, len(records), tls=dask_tls) as pool:
        table = measure_many(records, record_map, asked, pool)
    for file, problem in zip(table["file"], table["problem"], strict=True):
        if problem:
            out.print(f"{file}: {problem}")
    out.print(f"{len(table)} records, {int((table['problem'] != '').sum())} that cannot be used")
    for path in write_tables({"records": table}, output):
        out.print(str(path))
    out.print(CAUTION)


def _one(
    record: Path,
    record_map: Path | None,
    output: Path,
    asked: Asked,
    study: Path | None,
    place: dict[str, str | None],
    plots: Path | None,
    overwrite: bool,
) -> None:
    from xlcalc.cli.plots import check_folder, of_record, write_pictures
    from xlcalc.io.results.output import check_output, write_tables

    if study is None and any(place.values()):
        raise InputError("--pcc, --drive, --case", "without --study", "a study that they belong to")
    inputs = [path for path in (record, record_map, study) if path is not None]
    check_output(output, inputs, tables=TABLES, overwrite=overwrite)
    check_folder(plots, overwrite=overwrite)
    found = asked.record(record, record_map)
    judged = asked.judgements(found)
    for name, judgement in judged.items():
        out.print(f"{name}: {judgement.summary}")
    compared = None
    if study is not None:
        from xlcalc.face.beside import beside

        compared = beside(found, study, **place)
        for line in compared.lines:
            out.print(line)
    for finding in found.findings:
        out.print(f"note: {finding}")
    tables = _tables(found, judged, compared)
    check_output(output, inputs, tables=TABLES, overwrite=overwrite)
    if output.suffix.lower() == ".xlsx" and CURRENT in found.quantities:
        from xlcalc.cli.proof_book import proof_data, write_proof

        data = proof_data(
            found,
            compared,
            title=f"Field proof: {record.name}",
            facts={str(item): str(value) for item, value in found.summary().items()},
            sentences=(
                *(() if compared is None else compared.lines),
                *(f"{name}: {judgement.summary}" for name, judgement in judged.items()),
                *found.findings,
            ),
            asked=asked,
        )
        rest = {name: table for name, table in tables.items() if name not in IN_PROOF}
        write_proof(data, rest, output)
        out.print(str(output))
    else:
        for path in write_tables(tables, output):
            out.print(str(path))
    if plots is not None:
        out.print(write_pictures(plots, of_record(found, judged), inputs))
    out.print(CAUTION)


def _tables(record: Record, judged: dict[str, Judgement], compared: Beside | None) -> dict[str, pd.DataFrame]:
    import pandas as pd

    summary = {"file": record.name, **record.summary()}
    summary |= {name: judgement.summary for name, judgement in judged.items()}
    if compared is not None:
        summary |= {f"study, {k}": line for k, line in enumerate(compared.lines, start=1)}
    summary["caution"] = CAUTION
    tables = {
        "summary": pd.DataFrame({"item": list(summary), "value": [str(v) for v in summary.values()]}),
        "findings": pd.DataFrame({"finding": list(record.findings)}),
        "verdicts": pd.DataFrame(
            [_row(name, verdict) for name, whole in judged.items() for verdict in whole.verdicts],
            columns=VERDICT_COLUMNS,
        ),
    }
    if compared is not None:
        tables |= {"difference": compared.table, "inputs": compared.inputs}
    if record.is_log:
        lengths = record.lengths
        return tables | {"intervals": pd.concat([record.aggregate(length) for length in lengths])}
    trend = record.windows()
    if len(trend) <= SHOWN_WINDOWS:
        tables["trend"] = trend
    ten = record.aggregate("10 min")
    return tables | {
        "spectrum": record.spectrum(),
        "intervals": ten if len(ten) else record.aggregate("3 s"),
    }


def _row(name: str, verdict: Verdict) -> tuple[object, ...]:
    quantity = verdict.quantity + (", at least" if verdict.at_least and verdict.given else "")
    return (
        name,
        quantity,
        verdict.order,
        verdict.value,
        verdict.limit,
        verdict.unit,
        verdict.word,
        verdict.origin.text,
        verdict.verified,
    )
