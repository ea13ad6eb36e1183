"""Between a projected CRS and the longitude and latitude of GeoJSON, by pyproj."""

from functools import cache

import pyproj
import shapely


@cache
def transformer(source, target):
    return pyproj.Transformer.from_crs(source, target, always_xy=True)


def transform(geometry, source, target):
    def each(x, y):
        return transformer(source, target).transform(x, y)

    return shapely.transform(geometry, each, interleaved=False)


def from_lonlat(geometry, crs):
    return transform(geometry, "OGC:CRS84", crs)


def to_lonlat(geometry, crs):
    return transform(geometry, crs, "OGC:CRS84")
