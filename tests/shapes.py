"""Plane geometry for tests, on its own: areas and crossings."""


def polygon_area(points):
    """The shoelace formula."""
    rolled = [*points[1:], points[0]]
    return abs(sum(ax * by - bx * ay for (ax, ay), (bx, by) in zip(points, rolled, strict=True))) / 2


def segments_cross(one, other):
    """Solve for the two parameters along the lines; True where both lie strictly within."""
    (ax, ay), (bx, by) = one
    (cx, cy), (dx, dy) = other
    ux, uy, vx, vy = bx - ax, by - ay, dx - cx, dy - cy
    under = ux * vy - uy * vx
    if abs(under) < 1e-12:
        return False
    s = ((cx - ax) * vy - (cy - ay) * vx) / under
    t = ((cx - ax) * uy - (cy - ay) * ux) / under
    return 1e-9 < s < 1 - 1e-9 and 1e-9 < t < 1 - 1e-9
