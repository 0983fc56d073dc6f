"""The whole job once: readings in, drops and a proof out, and a page that shows it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from strikeoff.base.canonical import digest_file
from strikeoff.base.files import atomic_path, storage_errors, write_text
from strikeoff.base.problems import Problem
from strikeoff.base.progress import Progress, silent
from strikeoff.measurement.embedded import measured_cmyk_text
from strikeoff.measurement.read import read_readings
from strikeoff.measurement.write import write_readings
from strikeoff.mill.finishing import Faults, finishing_of, run
from strikeoff.mill.press import press_from_readings
from strikeoff.mill.world import fabric, printer
from strikeoff.report.preview import srgb_profile
from strikeoff.workbench.artwork import separate
from strikeoff.workbench.conditions import build_condition
from strikeoff.workbench.control import verify
from strikeoff.workbench.demo_files import (
    ARTWORK_PX,
    FABRIC,
    FILES,
    FINISHED_MM,
    PRINTER,
    READINGS_PER_PATCH,
    ROLL_MM,
    TOTAL_INK_PERCENT,
    DemoRun,
)
from strikeoff.workbench.demo_finishing import (
    TOLERANCE_MM,
    roll_lot,
    roll_size_lines,
    write_grids,
    write_roll_grids,
)
from strikeoff.workbench.demo_goods import write_goods
from strikeoff.workbench.finishing import finishing_risk, measure_finishing
from strikeoff.workbench.profiles import write_profile
from strikeoff.workbench.result import Result
from strikeoff.workbench.roll_screen import screen_roll
from strikeoff.workbench.rolls import compose_roll

#: What goes wrong at the end of the roll: the magenta head has aged, the steamer is too cold.
FAULTS = Faults(ink_gain_percent={"M": -8.0}, steamer_offset_c=-3.0)
_MAKERS = ("DESCRIPTOR", "ORIGINATOR", "TARGET_INSTRUMENT")


def run_demo(out: str | Path, *, progress: Progress = silent) -> Result:
    """Do the main job end to end on measured readings and write a page that shows it.

    Parameters
    ----------
    out : str or Path
        Folder for everything; made when it is not there.
    progress : Progress
        Told what goes on.

    Returns
    -------
    Result

    Raises
    ------
    StorageError
        When the folder cannot be written, or the package with the measured readings is missing.
    """
    from strikeoff.workbench.demo_page import write_page

    folder = Path(out)
    with storage_errors(folder):
        for name in FILES.values():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
    path = {key: folder / name for key, name in FILES.items()}
    found: dict[str, Result] = {}

    write_text(path["readings"], _without_makers(measured_cmyk_text()))
    press = printer(PRINTER)
    write_grids(path["grids"], finishing_of(fabric(FABRIC), press))
    found["finishing"] = measure_finishing(path["grids"], drawing=path["grids drawing"])
    write_goods(path["goods"], found["finishing"].results)
    found["condition"] = build_condition(
        path["readings"],
        path["condition"],
        total_ink=TOTAL_INK_PERCENT,
        goods=path["goods"],
        name="measured CMYK",
        progress=progress,
    )
    found["profile v2"] = write_profile(path["condition"], path["profile v2"], version=2)
    found["profile v4"] = write_profile(path["condition"], path["profile v4"], version=4)

    progress("draw the artwork", 0.0)
    _write_artwork(path["artwork"])
    found["planes"] = separate(
        path["condition"], path["artwork"], path["planes"], intent="perceptual", progress=progress
    )
    change = {d: found["finishing"].results[d]["change_percent"] for d in ("warp", "weft")}
    found["roll"] = compose_roll(
        path["planes"],
        path["roll"],
        repeat="half-drop",
        finished=FINISHED_MM,
        warp=change["warp"],
        weft=change["weft"],
        width=ROLL_MM[0],
        length=ROLL_MM[1],
        dpi=press.dpi,
        job="Night meadow",
        drawing=path["drawing"],
        strip_reference=path["strip"],
        progress=progress,
    )
    found["drops"] = screen_roll(path["roll"], path["drops"], progress=progress)

    found["risk"] = finishing_risk(
        path["grids"],
        finished=FINISHED_MM,
        tolerance=TOLERANCE_MM,
        repeats=found["roll"].results["whole_repeats_along"],
    )

    progress("print, steam, wash and measure", 0.0)
    _mill(path)
    for end in ("start", "end"):
        found[f"verdict {end}"] = verify(path["condition"], path[f"strip {end}"], out=path[f"verdict {end}"])
    facts = {key: result.results for key, result in found.items()}
    # One lot, two specimens: that this tells nothing about other lots is no news to anybody here.
    facts["roll grids"] = measure_finishing(path["roll grids"]).results
    demo = DemoRun(folder, facts)
    progress("draw the page", 0.0)
    page = write_page(demo, progress)
    progress("draw the page", 1.0)
    problems: list[Problem] = [p for result in found.values() for p in result.problems]
    results = {
        "page": page.name,
        "condition": found["condition"].results,
        "roll": found["roll"].results,
        "planes": found["planes"].results,
        "finishing": facts["finishing"],
        "risk": facts["risk"],
        "roll_finishing": facts["roll grids"],
        "verdict_start": found["verdict start"].outcome,
        "verdict_end": found["verdict end"].outcome,
        "digests": {name: digest_file(path[key]) for key, name in FILES.items()},
    }
    lines = (
        *found["condition"].lines[-5:],
        *roll_size_lines(found["roll"], found["risk"]),
        f"strip at the start: {found['verdict start'].outcome}; at the end, magenta head aged and steamer "
        f"too cold: {found['verdict end'].outcome} (simulated, not yet shown on cloth)",
        f"open {page}",
    )
    return Result(results, tuple(problems), (*path.values(), page), "done", lines)


def _without_makers(text: str) -> str:
    """Return readings without the lines of their header that name makers of programs and instruments."""
    lines = text.splitlines(keepends=True)
    return "".join(line for line in lines if (line.split(maxsplit=1) or [""])[0] not in _MAKERS)


def _write_artwork(path: Path) -> None:
    import tifffile

    from strikeoff.artwork.motif import draw_repeat

    picture = draw_repeat(ARTWORK_PX)
    ppi = ARTWORK_PX / (FINISHED_MM[0] / 25.4)
    with atomic_path(path) as part:
        tifffile.imwrite(
            part,
            picture,
            photometric="rgb",
            compression="deflate",
            resolution=(ppi, ppi),
            resolutionunit="INCH",
            iccprofile=srgb_profile(),
            metadata=None,
        )


def _mill(path: Mapping[str, Path]) -> None:
    """Print the control strip twice, finish it, read it: once as it should be, once with faults."""
    readings, _ = read_readings(path["readings"])
    strip, _ = read_readings(path["strip"], need_colour=False)
    cloth = fabric(FABRIC)
    finishing = finishing_of(cloth, printer(PRINTER))
    press = press_from_readings(readings, ink_kept=finishing.ink_kept)
    lot, grids = roll_lot(finishing), {}
    for seed, (end, faults) in enumerate((("start", Faults()), ("end", FAULTS))):
        goods = run(
            press,
            strip.coverages,
            finishing=finishing,
            lot=lot,
            faults=faults,
            noise=cloth.noise,
            repeats=READINGS_PER_PATCH,
            seed=20 + seed,
            sample_ids=strip.sample_ids,
        )
        write_readings(path[f"strip {end}"], goods.readings, header=goods.readings.keywords)
        grids[end] = goods.grid
    write_roll_grids(path["roll grids"], grids)
