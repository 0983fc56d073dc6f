"""Which patch is what: control-strip roles (common practice, no source)."""

import numpy as np
import pytest

from strikeoff.base.errors import InputError
from strikeoff.verification.roles import ROLES, patch_roles

PATCHES = np.array(
    [
        [0, 0, 0, 0],
        [1, 0, 0, 0],
        [0, 0, 0, 1],
        [1, 1, 0, 0],
        [1, 1, 1, 0],
        [0, 0.4, 0, 0],
        [0.64, 0.53, 0.52, 0],
        [0.10, 0.06, 0.06, 0],
        [0.10, 0.06, 0.06, 0.2],
        [0.9, 0.1, 0.1, 0],
    ]
)


def rows(mask):
    return np.flatnonzero(mask).tolist()


def test_roles_without_aims():
    roles = patch_roles(("C", "M", "Y", "K"), PATCHES)
    assert tuple(roles) == ROLES
    assert rows(roles["cloth"]) == [0]
    assert rows(roles["all"]) == list(range(10))
    assert rows(roles["solids"]) == [1, 2]
    assert rows(roles["overprints"]) == [3, 4]
    assert rows(roles["tints"]) == [5]
    assert rows(roles["greys"]) == [6, 7]
    assert rows(roles["black"]) == [2]


def test_greys_follow_the_aims_where_there_are_any():
    aims = np.full((10, 3), [50.0, 30.0, 0.0])
    aims[[0, 2, 5, 8, 9], 1:] = 0.0
    roles = patch_roles(("C", "M", "Y", "K"), PATCHES, aims)
    # Neutral aim: cloth, black, a tint and a mix with black are no composed greys; the last mix is one.
    assert rows(roles["greys"]) == [9]


def test_black_is_found_by_colour_where_names_say_nothing():
    aims = np.full((10, 3), [50.0, 30.0, 0.0])
    aims[2] = [20, 1, 1]
    assert rows(patch_roles("1234", PATCHES, aims)["black"]) == [2]
    assert rows(patch_roles("1234", PATCHES)["black"]) == []


def test_order_of_inks_is_that_of_the_names():
    turned = PATCHES[:, [3, 2, 0, 1]]
    roles = patch_roles(("K", "Y", "C", "M"), turned)
    assert rows(roles["greys"]) == [6, 7]
    assert rows(roles["black"]) == [2]


def test_shapes_must_agree():
    with pytest.raises(InputError):
        patch_roles("CMY", PATCHES)
    with pytest.raises(InputError):
        patch_roles("CMYK", PATCHES, np.zeros((3, 3)))
