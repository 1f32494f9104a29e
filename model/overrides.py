"""A variant of a scene, as its file says it: what is different, in the same tables as the scene's own."""

from __future__ import annotations

from pydantic import ConfigDict, Field

from model.fields import Name, OwnName, Table, Text

# More variants than this nobody compares, and each of them is checked whenever the file is read.
MOST_VARIANTS = 40


class Variant(Table):
    """What is different in a variant; every table of the scene may stand under it with the keys that change."""

    model_config = ConfigDict(extra="allow", strict=True, frozen=True)

    of: OwnName | None = Field(None, description="the variant that it builds on; left out: the scene as written")
    title: Name | None = Field(None, description="left out: the scene's own title and the variant's name")
    remove: list[Text] = Field(
        default_factory=list, description='entries or keys to take out first, such as "link.panhard bar"'
    )
