"""The goods that the demo's condition is for: invented, and so they say."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from strikeoff.base.files import write_text
from strikeoff.inks.goods import Cloth, Finishing, Goods, InkSet, Press, Step
from strikeoff.inks.goods_lines import goods_lines
from strikeoff.inks.goods_tables import change_from_facts
from strikeoff.mill.world import fabric, printer
from strikeoff.workbench.demo_files import FABRIC, PRINTER

# As the invented printer's fixation has it in words.
_STEPS = (Step("steaming", 102, minutes=10), Step("washing"))


def write_goods(path: Path, measured: dict[str, Any]) -> None:
    """Write printer, cloth and finishing, with the changes that ``finishing measure`` found."""
    press = printer(PRINTER)
    warp, weft = (change_from_facts(measured[way], way) for way in ("warp", "weft"))
    goods = Goods(
        press=Press(f"{PRINTER} (invented)", press.width_mm),
        ink_set=InkSet(f"CMYK of {PRINTER} (invented)", press.chemistry),
        cloth=Cloth(f"{FABRIC} (invented)", mass_g_m2=fabric(FABRIC).mass_g_m2),
        finishing=Finishing(_STEPS, warp, weft),
    )
    write_text(path, "\n".join(goods_lines(goods)))
