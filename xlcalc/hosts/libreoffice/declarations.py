"""Texts that declare the functions to LibreOffice, generated from the registry."""

from __future__ import annotations

from collections.abc import Mapping
from xml.sax.saxutils import escape, quoteattr

from xlcalc import __version__
from xlcalc.hosts.libreoffice.identifiers import (
    EXTENSION,
    INTERFACE,
    JOB,
    MODULES,
    REASON,
    SERVICE,
    methods,
    parameter_name,
    parameters,
)
from xlcalc.worksheet.registry import WorksheetFunction

_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_REGISTRY = (
    'xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema" '
    'oor:package="org.openoffice.Office"'
)
_ANY, _ARRAY = "any", "sequence< sequence< any > >"
COMPONENT_FILE = "component.py"
COMPONENTS_FILE = "xlcalc.components"
TYPES_FILE = "XFunctions.idl"
FUNCTIONS_FILE = "CalcAddIns.xcu"
JOBS_FILE = "Jobs.xcu"
MENU_FILE = "Addons.xcu"


def interface(functions: Mapping[str, WorksheetFunction]) -> str:
    """Interface of the add-in as plain text; every argument takes a value or a range and may be left out."""
    lines = [" ".join(f"module {name} {{" for name in MODULES)]
    lines += [f"interface {INTERFACE} : com::sun::star::uno::XInterface", "{"]
    for method, function in methods(functions).items():
        count = len(parameters(function))
        given = ", ".join(f"[in] {_ANY} {parameter_name(n)}" for n in range(1, count + 1))
        lines.append(f"    {_ARRAY if function.shape else _ANY} {method}( {given} );")
    lines += ["};", "}; " * len(MODULES)]
    return "\n".join(lines) + "\n"


def function_list(functions: Mapping[str, WorksheetFunction]) -> str:
    """Names and texts for the function wizard."""
    nodes = "".join(_function_node(method, function) for method, function in methods(functions).items())
    return (
        f'{_HEAD}<oor:component-data {_REGISTRY} oor:name="CalcAddIns"><node oor:name="AddInInfo">'
        f'<node oor:name="{SERVICE}" oor:op="replace"><node oor:name="AddInFunctions">{nodes}'
        "</node></node></node></oor:component-data>\n"
    )


def _function_node(method: str, function: WorksheetFunction) -> str:
    nodes = "".join(
        f'<node oor:name="{parameter_name(n)}" oor:op="replace">{_text("DisplayName", name)}'
        f"{_text('Description', argument.help + ('' if argument.required else ' (optional)'))}</node>"
        for n, (name, argument) in enumerate(parameters(function), start=1)
    )
    description = f"{function.category}: {function.about}"
    return (
        f'<node oor:name="{method}" oor:op="replace">{_text("DisplayName", function.name)}'
        f"{_text('Description', description)}"
        '<prop oor:name="Category"><value>Add-In</value></prop>'
        f"{_text('CompatibilityName', function.name)}"
        f'<node oor:name="Parameters">{nodes}</node></node>'
    )


def _text(name: str, value: str) -> str:
    return f'<prop oor:name="{name}"><value xml:lang="en">{escape(value)}</value></prop>'


def jobs() -> str:
    """Runs the job that resolves plain function names once a document has been loaded.

    It runs again with the window of the document, to say there what it could not resolve.
    """
    events = "".join(
        f'<node oor:name="{event}" oor:op="fuse"><node oor:name="JobList">'
        '<node oor:name="XlcalcReopen" oor:op="replace"/></node></node>'
        for event in ("OnLoadFinished", "OnViewCreated")
    )
    return (
        f'{_HEAD}<oor:component-data {_REGISTRY} oor:name="Jobs"><node oor:name="Jobs">'
        '<node oor:name="XlcalcReopen" oor:op="replace"><prop oor:name="Service">'
        f'<value>{JOB}</value></prop></node></node><node oor:name="Events">{events}</node>'
        "</oor:component-data>\n"
    )


def menu() -> str:
    """The entry of the menu Tools, Add-Ons."""
    return (
        f'{_HEAD}<oor:component-data {_REGISTRY} oor:name="Addons"><node oor:name="AddonUI">'
        '<node oor:name="AddonMenu"><node oor:name="org.xlcalc.calc.reason" oor:op="replace">'
        f'<prop oor:name="URL"><value>service:{REASON}?reason</value></prop>'
        f"{_text('Title', 'xlcalc: reason of the error in this cell')}"
        '<prop oor:name="Context"><value>com.sun.star.sheet.SpreadsheetDocument</value></prop>'
        '<prop oor:name="Target"><value>_self</value></prop></node></node></node></oor:component-data>\n'
    )


def components() -> str:
    """Implementations in the component file, so that registering the extension imports nothing."""
    return (
        f'{_HEAD}<components xmlns="http://openoffice.org/2010/uno-components">'
        f'<component loader="com.sun.star.loader.Python" uri="{COMPONENT_FILE}">'
        f'<implementation name="{SERVICE}"><service name="{SERVICE}"/>'
        '<service name="com.sun.star.sheet.AddIn"/></implementation>'
        f'<implementation name="{JOB}"><service name="{JOB}"/><service name="com.sun.star.task.Job"/>'
        f'</implementation><implementation name="{REASON}"><service name="{REASON}"/>'
        '<service name="com.sun.star.task.JobExecutor"/></implementation></component></components>\n'
    )


def manifest() -> str:
    """Files of the extension and their kinds."""
    configuration = "application/vnd.sun.star.configuration-data"
    entries = (
        (TYPES_FILE, "application/vnd.sun.star.uno-typelibrary;type=RDB"),
        (COMPONENTS_FILE, "application/vnd.sun.star.uno-components"),
        (FUNCTIONS_FILE, configuration),
        (JOBS_FILE, configuration),
        (MENU_FILE, configuration),
    )
    rows = "".join(
        f"<manifest:file-entry manifest:full-path={quoteattr(name)} manifest:media-type={quoteattr(kind)}/>"
        for name, kind in entries
    )
    return (
        f'{_HEAD}<manifest:manifest xmlns:manifest="http://openoffice.org/2001/manifest">{rows}'
        "</manifest:manifest>\n"
    )


def description() -> str:
    """Identifier and version of the extension."""
    return (
        f'{_HEAD}<description xmlns="http://openoffice.org/extensions/description/2006">'
        f'<identifier value="{EXTENSION}"/><version value="{__version__}"/>'
        '<display-name><name lang="en">xlcalc worksheet functions</name></display-name></description>\n'
    )
