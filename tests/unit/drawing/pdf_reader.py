"""A small strict reader of PDFs for tests: follows every table back from the end, newest object first.

Source: ISO 32000-1:2008, 7.5.4 to 7.5.8 (from memory). It shares nothing with the writer under test.
"""

import re


def objects_of(data):
    """Where every object begins, by the newest table that names it; each checked to begin there."""
    found, trailers, at = {}, [], int(re.findall(rb"startxref\s+(\d+)\s+%%EOF", data)[-1])
    while at is not None:
        assert data[at : at + 4] == b"xref", "a table stands where the file says"
        end = data.index(b"trailer", at)
        lines = data[at:end].split(b"\n")[1:]
        n = 0
        while n < len(lines) and lines[n].strip():
            first, count = map(int, lines[n].split())
            for k in range(count):
                row = lines[n + 1 + k]
                assert len(row) == 19, "a row has twenty bytes"
                if row.split()[2] == b"n":
                    found.setdefault(first + k, int(row[:10]))
            n += 1 + count
        trailers.append(data[end : data.index(b"startxref", end)])
        before = re.search(rb"/Prev (\d+)", trailers[-1])
        at = int(before[1]) if before else None
    for number, start in found.items():
        assert data[start:].startswith(b"%d 0 obj" % number), f"object {number} begins where its table says"
    return {n: data[s : data.index(b"endobj", s)] for n, s in found.items()}, trailers[0]


def page_boxes(data):
    """The boxes of every page in order, in points: a dict by name."""
    objects, trailer = objects_of(data)

    def reference(body, key):
        return int(re.search(rb"/" + key + rb" (\d+) 0 R", body)[1])

    def leaves(number):
        kids = re.search(rb"/Kids ?\[(.*?)\]", objects[number], re.DOTALL)
        if not kids:
            return [number]
        return [leaf for kid in re.findall(rb"(\d+) 0 R", kids[1]) for leaf in leaves(int(kid))]

    boxes = rb"/(MediaBox|TrimBox|BleedBox|CropBox|ArtBox) ?\[([^\]]*)\]"
    return [
        {
            name.decode(): tuple(map(float, numbers.split()))
            for name, numbers in re.findall(boxes, objects[page])
        }
        for page in leaves(reference(objects[reference(trailer, b"Root")], b"Pages"))
    ]
