"""Names of a study: its title, who answers for it, and what its cases are called."""

from __future__ import annotations

from typing import Final

from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.quantities import MAINS_HZ
from xlcalc.schema.kinds import Text
from xlcalc.schema.tables import NamedValues

TITLE_FIELDS: Final = (
    Field("title", Text(), "Title of the study", default=None),
    Field("client", Text(), "For whom the study is", default=None),
    Field("project", Text(), "Project or plant", default=None),
    Field("document number", Text(), "Number of the document", default=None),
    Field("revision", Text(), "Its revision", default=None),
    Field("date", Text(), "Date of the study", default=None),
    Field("prepared by", Text(), "Who made it", default=None),
    Field("checked by", Text(), "Who checked it", default=None),
    Field("approved by", Text(), "Who answers for it", default=None),
    Field("remark", Text(), "Anything a reader should know", default=None),
)
STUDY: Final = NamedValues(
    (*TITLE_FIELDS, Field("frequency hz", MAINS_HZ, "Supply frequency, for reactors in mH", default=60.0))
)
CASE_NAME: Final = Field("name", Text(), "Name of the case", default=None)
