"""Measuring set-ups of CxF documents as header keywords, and back."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from strikeoff.base.errors import InputError
from strikeoff.measurement.records import ReadingSet

# Names of lights in CxF and here.
_TO_CXF = {f"FL{n}": f"F{n}" for n in (2, 3, 7, 9, 10, 11, 12)}
_FROM_CXF = {theirs: ours for ours, theirs in _TO_CXF.items()}
_UNKNOWN = "unknown"
_MODES = {"M0": "M0_INCANDESCENT", "M1": "M1_DAYLIGHT", "M2": "M2_UVEXCLUDED", "M3": "M3_POLARIZED"}


@dataclass(frozen=True)
class Specification:
    """What a ColorSpecification says.

    Attributes
    ----------
    setup, light : dict of str to str
        Header keywords of the measuring set-up; of illuminant and observer.
    start_nm, increment_nm : int or None
        Wavelengths of spectra. [nm]
    """

    setup: dict[str, str] = field(default_factory=dict)
    light: dict[str, str] = field(default_factory=dict)
    start_nm: int | None = None
    increment_nm: int | None = None


def read_specification(record: Any) -> Specification:
    """Return what a ColorSpecification of the CxF library says.

    Parameters
    ----------
    record : object
        The library's record.

    Returns
    -------
    Specification
    """
    light: dict[str, str] = {}
    stimulus = record.tristimulus_spec
    if stimulus is not None:
        lamp = getattr(stimulus.illuminant_or_custom_illuminant, "value", None)
        name = getattr(lamp, "value", None)
        if name == "Custom":
            name = stimulus.illuminant_or_custom_illuminant.name
        if name:
            light["ILLUMINATION_NAME"] = _FROM_CXF.get(name, name)
        if stimulus.observer is not None and stimulus.observer.value is not None:
            light["OBSERVER_ANGLE"] = stimulus.observer.value.value.split("_")[0]
    spec = record.measurement_spec
    if spec is None:
        return Specification({}, light)
    device = spec.device
    lamp = device.device_illumination.value if device and device.device_illumination else None
    maker = " ".join(part for part in (device.manufacturer, device.model) if part) if device else ""
    words = {
        "MEASUREMENT_CONDITION": lamp.value.split("_")[0] if lamp and lamp.value[:1] == "M" else None,
        "FILTER": _filter(device),
        "MEASUREMENT_GEOMETRY": _geometry(spec.geometry_choice),
        "SAMPLE_BACKING": spec.backing,
        "MEASUREMENT_APERTURE": spec.aperture,
        "INSTRUMENTATION": maker or None,
        "SAMPLE_SIDE": "transmission" if "TRANSMITTANCE" in _name(spec.measurement_type) else None,
    }
    grid = spec.wavelength_range
    return Specification(
        {key: " ".join(text.split()) for key, text in words.items() if text},
        light,
        grid.start_wl if grid else None,
        grid.increment if grid else None,
    )


def _name(record: Any) -> str:
    return str(getattr(getattr(record, "value", None), "name", ""))


def _filter(device: Any) -> str | None:
    record = device.device_filter if device else None
    kind = record.value.value if record and record.value else "Filter_None"
    return None if kind == "Filter_None" else str(kind).removeprefix("Filter_")


def _geometry(choice: Any) -> str | None:
    value = getattr(choice, "choice", None)
    if value is None:
        return None
    if isinstance(value, str):
        return None if value == _UNKNOWN else value
    if hasattr(value, "illumination_angle"):
        return f"{value.illumination_angle:g}/{value.measurement_angle:g}"
    return str(getattr(value, "value", type(value).__name__)).replace("_", " ").lower()


def specification_records(readings: ReadingSet) -> tuple[Any, Any]:
    """Return the two ColorSpecifications of readings: of the spectra, of XYZ and Lab.

    Parameters
    ----------
    readings : ReadingSet
        What is to be written.

    Returns
    -------
    setup, light : object
        Records of the CxF library.

    Raises
    ------
    InputError
        When wavelengths are not whole and evenly spaced: CxF has no way to say them.
    """
    from colour_cxf import cxf3

    setup = readings.setup
    grid = None
    if readings.wavelengths_nm is not None:
        start, step = _even_grid(readings.wavelengths_nm)
        grid = cxf3.WavelengthRange(start_wl=start, increment=step)
    mode = _MODES.get(setup.mode or "")
    lamp = cxf3.DeviceIllumination(value=cxf3.EdeviceIlluminationType[mode]) if mode else None
    device = cxf3.Device(model=setup.instrument, device_illumination=lamp)

    def measured(kind: str, wavelengths: Any) -> Any:
        return cxf3.MeasurementSpec(
            measurement_type=cxf3.MeasurementType(value=cxf3.EspectrumType[kind]),
            geometry_choice=cxf3.GeometryChoice(choice=setup.geometry or _UNKNOWN),
            wavelength_range=wavelengths,
            aperture=None if setup.aperture_mm is None else f"{setup.aperture_mm:g} mm",
            backing=setup.backing,
            device=device if lamp or setup.instrument else None,
        )

    name = _TO_CXF.get(setup.illuminant, setup.illuminant)
    known = {kind.value: kind for kind in cxf3.EilluminantType}
    illuminant = (
        cxf3.Illuminant(value=known[name])
        if name in known
        else cxf3.Illuminant(value=known["Custom"], name=setup.illuminant)
    )
    stimulus = cxf3.TristimulusSpec(
        illuminant_or_custom_illuminant=illuminant,
        observer=cxf3.Observer(value=cxf3.EobserverType[f"VALUE_{setup.observer}_DEGREE"]),
        method=cxf3.Method(value=cxf3.EastmTableType.UNKNOWN),
    )
    return (
        cxf3.ColorSpecification(id="setup", measurement_spec=measured("SPECTRUM_REFLECTANCE", grid)),
        cxf3.ColorSpecification(
            id="light",
            tristimulus_spec=stimulus,
            measurement_spec=measured("COLORIMETRIC_REFLECTANCE", None),
        ),
    )


def _even_grid(wavelengths_nm: Any) -> tuple[int, int]:
    steps = np.diff(wavelengths_nm)
    whole = np.round(wavelengths_nm)
    if len(wavelengths_nm) < 2 or np.ptp(steps) > 1e-6 or np.abs(wavelengths_nm - whole).max() > 1e-6:
        raise InputError(
            "CxF holds only whole, evenly spaced wavelengths",
            found=", ".join(f"{nm:g}" for nm in wavelengths_nm[:6]),
            advice="Write ISO 28178 text or CSV in place of CxF",
        )
    return int(whole[0]), round(float(steps[0]))
