"""Volume and shares of bodies whose true values are known."""

import numpy as np
import pytest

from strikeoff.artwork.colour import srgb_to_lab
from strikeoff.model.gamut_body import body_of_triangles, face_triangles, mesh_triangles, shared_volume


def ball(radius, centre=(55.0, 0.0, 0.0)):
    polar = np.linspace(np.pi - 1e-3, 1e-3, 40)[:, None]
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)[None, :]
    mesh = np.stack(
        [np.cos(polar) + 0 * turn, np.sin(polar) * np.cos(turn), np.sin(polar) * np.sin(turn)], axis=-1
    )
    return body_of_triangles(mesh_triangles(radius * mesh + np.array(centre)))


def test_volume_of_a_ball():
    """4/3 pi r^3, whatever the space in which the surface is stored."""
    assert ball(30.0).volume() == pytest.approx(4 / 3 * np.pi * 30**3, rel=0.02)


def test_shared_volume_of_two_balls():
    """Two equal balls a radius apart share 5/16 of one (lens: pi (4r + d)(2r - d)^2 / 12)."""
    first, second = ball(25.0, (42.0, 0.0, 0.0)), ball(25.0, (67.0, 0.0, 0.0))
    one, other, common = shared_volume(first, second)
    assert one == pytest.approx(4 / 3 * np.pi * 25**3, rel=0.03)
    assert other == pytest.approx(one, rel=0.03)
    assert common / one == pytest.approx(5 / 16, rel=0.06)


def test_inside_and_cut():
    body = ball(30.0)
    lab = np.array([[55, 0, 0], [55, 29, 0], [55, 31, 0], [84, 0, 0], [86, 0, 0], [34, 0, 20], [34, 0, 23.0]])
    assert body.contains(lab).tolist() == [True, True, False, True, False, True, False]
    np.testing.assert_allclose(np.hypot(*body.cut(73.0).T), 24.0, atol=0.4)  # 3-4-5 triangle
    assert len(body.cut(90.0)) == 0


def test_volume_of_srgb():
    """About 8.3e5 cubic units under D50: common practice's figure for sRGB."""
    volume = body_of_triangles(face_triangles(3, srgb_to_lab)).volume()
    assert 8.1e5 < volume < 8.5e5


def test_monte_carlo_agrees_on_srgb():
    """The share of random colours of the unit cube's image that is called inside; none is outside."""
    body = body_of_triangles(face_triangles(3, srgb_to_lab))
    lab = srgb_to_lab(np.random.default_rng(3).random((4000, 3)))
    assert body.contains(lab).mean() > 0.96
    outside = lab * [1, 1.6, 1.6]
    outside = outside[np.hypot(outside[:, 1], outside[:, 2]) > 140]
    assert not body.contains(outside).any()


def test_a_tinted_white_is_part_of_its_own_body():
    """A cone from a wide ring up to a white of b* 12 that no ring round a* = b* = 0 would hold."""
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    rings = [
        np.column_stack([np.full(72, level), size * np.cos(turn), middle + size * np.sin(turn)])
        for level, size, middle in zip(
            np.linspace(20, 95, 31), np.linspace(40, 0.0, 31), np.linspace(0, 12, 31), strict=True
        )
    ]
    body = body_of_triangles(mesh_triangles(np.array(rings)))
    assert body.volume() == pytest.approx(np.pi * 40**2 * 75 / 3, rel=0.02)
    near = np.array([[93.0, 0.0, 11.7], [90.0, 1.0, 11.0], [93.0, 0.0, 0.0], [90.0, 0.0, 3.0]])
    assert body.contains(near).tolist() == [True, True, False, False]
    ring = body.cut(92.0)
    np.testing.assert_allclose(ring.mean(axis=0), [0.0, 11.5], atol=0.2)
    np.testing.assert_allclose(np.hypot(*(ring - ring.mean(axis=0)).T), 1.6, atol=0.25)
