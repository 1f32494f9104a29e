"""Which scenes, and which of their variants, a call that takes two is about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from model.errors import CallError


@dataclass(frozen=True)
class Chosen:
    """A scene file, and one of its variants; `None` where it is taken as written."""

    file: Path
    variant: str | None = None

    @property
    def name(self) -> str:
        """The file's name as it was typed, with the variant's."""
        from viz.files import path_text

        text = path_text(self.file)
        return text if self.variant is None else f"{text}, {self.variant}"


def chosen(scene: Path, other: Path | None, variants: Sequence[str]) -> tuple[Chosen, ...]:
    """One scene or two: two files, or one with up to two variants, of which a single one stands alone.

    Raises:
        CallError: for variants that do not go with the files.

    """
    if len(variants) > 2:
        raise CallError(f"--variant is given {len(variants)} times, expected two at most; leave the others out.")
    if other is not None and len(variants) == 1:
        raise CallError(
            "--variant is given once beside two scenes; give it twice, first for SCENE and then for OTHER, with "
            '"as written" for the one that is to be without.'
        )
    if len(variants) == 2:
        pair = Chosen(scene, variants[0]), Chosen(other or scene, variants[1])
        if pair[0] == pair[1]:
            raise CallError(f'--variant is "{variants[0]}" both times; name two that differ.')
        return pair
    if other is not None:
        return Chosen(scene), Chosen(other)
    return (Chosen(scene, variants[0] if variants else None),)


def pair_chosen(scene: Path, other: Path | None, variants: Sequence[str]) -> tuple[Chosen, Chosen]:
    """Two to compare: where there is only one, what it differs from is the scene as written.

    Raises:
        CallError: for variants that do not go with the files, or where it is not plain what to compare.
        SceneError: the scene's file is wrong.

    """
    from model.reading import read_scene
    from model.variants import AS_WRITTEN
    from viz.files import path_text

    found = chosen(scene, other, variants)
    if len(found) == 2:
        return found[0], found[1]
    name = found[0].variant
    if name is None:
        known = list(read_scene(scene).variant)
        if len(known) != 1:
            if known:
                told = f"has the variants {', '.join(known)}; choose one with --variant, or name a second scene."
            else:
                told = "has no [variant.NAME] to compare it with; write one into it, or name a second scene."
            raise CallError(f"{path_text(scene)} {told}")
        name = known[0]
    if name == AS_WRITTEN:
        raise CallError(f'--variant is "{AS_WRITTEN}", which is what it would be compared with; name another one too.')
    return Chosen(scene, AS_WRITTEN), Chosen(scene, name)
