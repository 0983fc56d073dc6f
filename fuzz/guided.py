"""Coverage-guided fuzzing of readers: ``python fuzz/guided.py FOLDER READER [libFuzzer options]``.

FOLDER/READER keeps what was found to reach new lines; what breaks a reader is written to FOLDER.
Without a reader their names are listed, one a line.
"""

import sys
import tempfile
import warnings
from pathlib import Path

TESTS = Path(__file__).parents[1] / "tests"


def main() -> None:
    """Lay the sound files into the folder and go on from there."""
    import atheris

    sys.path[:0] = [str(TESTS), str(TESTS / "fuzz")]
    with atheris.instrument_imports(include=["strikeoff"]):
        from fuzz_readers import ALLOWED, READERS

        import strikeoff.artwork.opening
        import strikeoff.artwork.palette_file
        import strikeoff.condition.archive
        import strikeoff.icc.profile
        import strikeoff.inks.press_file
        import strikeoff.layout.placement_file
        import strikeoff.measurement.light_file
        import strikeoff.measurement.read
        import strikeoff.raster.tiff_reader
        import strikeoff.spot.colourway
        import strikeoff.spot.compiled
        import strikeoff.verification.tolerances  # noqa: F401
    if len(sys.argv) < 3:
        # The interpreter of pages runs in a process of its own, where no lines can be counted.
        print("\n".join(name for name in READERS if name != "pdf"))
        return
    folder, name = Path(sys.argv[1]), sys.argv[2]
    reader, corpus = READERS[name], folder / name
    corpus.mkdir(parents=True, exist_ok=True)
    for number, data in enumerate(reader.seeds()):
        (corpus / f"seed-{number}").write_bytes(data)
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as scratch:

        def one(data: bytes) -> None:
            try:
                reader.read(data, Path(scratch))
            except ALLOWED:
                return

        crash = f"-artifact_prefix={folder}/crash-{name}-"
        options = [str(corpus), crash, "-max_len=65536", "-rss_limit_mb=2048", "-timeout=20", *sys.argv[3:]]
        atheris.Setup([sys.argv[0], *options], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
