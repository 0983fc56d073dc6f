"""The bytes of a PDF file around its objects.

References
----------
PDF 1.4: ISO 32000-1:2008, clause 7.5 (file structure).
"""

from __future__ import annotations

from collections.abc import Sequence


def pdf_bytes(objects: Sequence[bytes], *, version: bytes, trailer: bytes) -> bytes:
    """Return a file of objects, numbered from 1.

    Parameters
    ----------
    objects : sequence of bytes
        What stands in each, streams included.
    version : bytes
        Of PDF, such as ``1.7``.
    trailer : bytes
        Keyword and dictionary that lead to the catalog; ``%d`` in it becomes the size.

    Returns
    -------
    bytes
    """
    data = bytearray(b"%PDF-" + version + b"\n%\xe2\xe3\xcf\xd3\n")
    places = []
    for number, text in enumerate(objects, 1):
        places.append(len(data))
        data += b"%d 0 obj\n" % number + text + b"\nendobj\n"
    start = len(data)
    size = len(objects) + 1
    data += b"xref\n0 %d\n0000000000 65535 f \n" % size
    data += b"".join(b"%010d 00000 n \n" % place for place in places)
    data += trailer % size + b"\nstartxref\n%d\n%%%%EOF\n" % start
    return bytes(data)


def stream_object(content: bytes) -> bytes:
    r"""Return an object that is a stream.

    Examples
    --------
    >>> stream_object(b"0 g")
    b'<< /Length 3 >>\nstream\n0 g\nendstream'
    """
    return b"<< /Length %d >>\nstream\n" % len(content) + content + b"\nendstream"
