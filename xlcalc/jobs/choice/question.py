"""What one run of the choice is asked: from a workbook, or from files of site, drives, options and terms."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from xlcalc.core.errors import InputError
from xlcalc.io.choices.option_files import read_options
from xlcalc.io.choices.terms import read_terms
from xlcalc.io.plants.plant_file import PlantSite
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.jobs.choice.assemble import problem_of, read_drives, read_sites
from xlcalc.jobs.choice.plant_files import is_choice_book, read_choice_book, with_drives
from xlcalc.jobs.choice.uncertain import read_choice_spec, read_plant_spec, sampled_cases, sampled_plant_cases
from xlcalc.mitigation.milp.search import Effort
from xlcalc.mitigation.problem import LimitCase, Problem
from xlcalc.mitigation.terms import Terms

INVENTED = "the shipped table of options was used; its prices and spectra are invented"


@dataclass(frozen=True)
class Files:
    """Where the parts of a question stand; those of the workbook itself may be left out."""

    drives: Path | None = None
    terms: Path | None = None
    options: Path | None = None
    prices: Path | None = None
    residuals: Path | None = None
    spec: Path | None = None


@dataclass(frozen=True)
class Question:
    """A problem, how long to search, and what varies.

    Parameters
    ----------
    problem : Problem
    terms : Terms
    effort : Effort or None
        Of a workbook; None leaves it to the caller.
    coupled : bool
        The coupled study must pass too.
    samples : callable or None
        Gives the cases of each sample of the uncertain inputs.
    samples_coupled : bool
        Every sample is studied coupled.
    cautions : tuple of str
        What a reader of the answer should know about the files.
    """

    problem: Problem
    terms: Terms
    effort: Effort | None = None
    coupled: bool = True
    samples: Callable[[], Iterator[tuple[LimitCase, ...]]] | None = None
    samples_coupled: bool = False
    cautions: tuple[str, ...] = ()


def question_of(sites: Sequence[Path], files: Files) -> Question:
    """Read everything.

    Parameters
    ----------
    sites : sequence of Path
        One workbook of the template of a choice, or one file of a plant of buses, or states of one site.
    files : Files

    Raises
    ------
    InputError
        A file is missing or superfluous, or does not fit the others.
    WorkbookFileError
        A file is not a valid workbook.
    """
    if files.options is None and (files.prices is not None or files.residuals is not None):
        raise InputError("--options", None, "the table that the prices and residual spectra belong to")
    if is_choice_book(sites[0]):
        return _of_book(sites, files)
    drives, terms_file = (
        _needed(path, option) for path, option in ((files.drives, "--drives"), (files.terms, "--terms"))
    )
    first = read_drive_site(sites[0])
    rows = read_drives(drives, first)
    terms = read_terms(terms_file, rows)
    options = read_options(files.options, files.prices, files.residuals)
    cautions = (INVENTED,) if files.options is None else ()
    if isinstance(first, PlantSite):
        if len(sites) > 1:
            raise InputError("SITE", f"{len(sites)} files", "one plant, whose terms name its cases")
        plant = with_drives(first, rows)
        problem = plant.problem(options, terms)
        if files.spec is None:
            return Question(problem, terms, cautions=cautions)
        varying = read_plant_spec(files.spec, plant)
        return Question(
            problem,
            terms,
            samples=lambda: sampled_plant_cases(varying.sweep, plant, options, terms),
            samples_coupled=varying.coupled,
            cautions=cautions,
        )
    found = read_sites(sites)
    problem = problem_of(found, drives, options, terms)
    if files.spec is None:
        return Question(problem, terms, cautions=cautions)
    spec = read_choice_spec(files.spec, found[0], rows)
    return Question(
        problem,
        terms,
        samples=lambda: sampled_cases(spec.sweep, found, rows, options, terms),
        samples_coupled=spec.coupled,
        cautions=cautions,
    )


def _of_book(sites: Sequence[Path], files: Files) -> Question:
    given = [name for name, path in vars(files).items() if path is not None and name != "spec"]
    if len(sites) > 1 or given:
        what = f"with --{given[0]}" if given else f"with {len(sites) - 1} more"
        raise InputError(sites[0].name, what, "alone, because the workbook holds everything")
    asked = read_choice_book(sites[0])
    question = Question(asked.problem, asked.terms, asked.effort, asked.coupled)
    if files.spec is None:
        return question
    spec = read_plant_spec(files.spec, asked.plant)
    samples = partial(sampled_plant_cases, spec.sweep, asked.plant, asked.options, asked.terms)
    return replace(question, samples=samples, samples_coupled=spec.coupled)


def _needed(path: Path | None, option: str) -> Path:
    if path is None:
        raise InputError(option, None, "a file, unless SITE is a workbook of the template choice_study")
    return path
