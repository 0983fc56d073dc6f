"""What objects of CxF documents say of patches beyond colours and device values.

CxF has no elements for the place of a patch in a chart, for widths of lines or for how many readings a value
is the mean of. Tags in a collection of our own name carry them: other readers keep or pass over what they do
not know.

References
----------
ISO 17972-1:2015, CxF/X core: TagCollection of an object, each with a name of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from strikeoff.measurement.fields import AVERAGED

#: Name of the collection.
COLLECTION = "strikeoff"
#: Columns beside inks and colours that a chart or a reading has.
KNOWN = (
    AVERAGED,
    "DE_U95",
    "PAGE",
    "ROW",
    "COLUMN",
    "POSITION_X_MM",
    "POSITION_Y_MM",
    "LINE_MM",
    "GAP_MM",
)


def object_tags(item: Any) -> dict[str, str]:
    """Return what is known of the tags of an object of the CxF library, by column name."""
    return {
        tag.name: " ".join(tag.value.split())
        for collection in item.tag_collection
        if collection.name == COLLECTION
        for tag in collection.tag
        if tag.name in KNOWN and tag.value
    }


def tag_collections(cxf3: Any, columns: Mapping[str, Sequence[object]], row: int) -> list[Any]:
    """Return the collection of tags of one object; empty where there are no columns."""
    tags = [cxf3.Tag(name=name, value=str(column[row])) for name, column in columns.items()]
    return [cxf3.TagCollection(tag=tags, name=COLLECTION)] if tags else []
