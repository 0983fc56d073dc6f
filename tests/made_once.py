"""What takes long to make, made by one worker of a parallel run and loaded by the others."""

import fcntl
import os
import pickle


def shared_folder(factory):
    """The folder that all workers of this run see."""
    base = factory.getbasetemp()
    return base.parent if "PYTEST_XDIST_WORKER" in os.environ else base


def made_once(factory, name, make):
    """The value of ``make()``, which runs in whichever worker comes first; ``name`` tells values apart."""
    made = shared_folder(factory) / f"{name}.made"
    with open(made.with_suffix(".lock"), "w") as lock:
        # The system frees it when its holder ends, however that happens.
        fcntl.flock(lock, fcntl.LOCK_EX)
        if made.exists():
            return pickle.loads(made.read_bytes())
        value = make()
        part = made.with_suffix(".part")
        part.write_bytes(pickle.dumps(value))
        part.replace(made)
        return value
