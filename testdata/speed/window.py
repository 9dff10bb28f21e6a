"""Ring means by windows, as one would write them with numpy: the reference for
speed and agreement of the sampling. DEVELOPERS.md, "Speed", has the command.

    python3 testdata/speed/window.py SURVEY RINGS.csv [SHARE]

SURVEY is a folder made by `rimcast synth big` (equirectangular maps of a
sphere); RINGS.csv is written by `go test ./raster -run RingMeans`. Every crater
of the file is read from every map as one window at full resolution; the means
of the rings are compared, and both times are printed. Craters near the cut of
the map are left out. Craters are read in the order of the blocks of the file.
With SHARE = n only those of an nth of all longitudes are read, and the times are
multiplied by what they are of all.
"""
import csv
import glob
import json
import os
import sys
import time

import numpy as np
from osgeo import gdal

gdal.UseExceptions()
gdal.SetCacheMax(1 << 30)
RINGS, REACH = 12, 8.0


def ring_means(bands, geo, crater, body):
    """Area means of 12 rings from half a radius to eight, for each band."""
    lon, lat, radius = crater
    angle = REACH * radius / body
    step = abs(geo[1])
    r0 = int((geo[3] - (lat + np.degrees(angle))) / step) - 1
    r1 = int((geo[3] - (lat - np.degrees(angle))) / step) + 2
    half = np.degrees(np.arcsin(min(1.0, np.sin(angle) / np.cos(np.radians(lat))))) / step
    middle = (lon - geo[0]) / step
    c0, c1 = int(middle - half) - 1, int(middle + half) + 2
    if abs(lat) + np.degrees(angle) >= 89 or c0 < 0 or c1 > bands[0].XSize or r0 < 0 or r1 > bands[0].YSize:
        return None
    phi = np.radians(geo[3] - (np.arange(r0, r1) + 0.5) * step)[:, None]
    lam = np.radians(geo[0] + (np.arange(c0, c1) + 0.5) * step - lon)[None, :]
    h = np.sin((phi - np.radians(lat)) / 2) ** 2 + np.cos(phi) * np.cos(np.radians(lat)) * np.sin(lam / 2) ** 2
    rho = 2 * body * np.arcsin(np.sqrt(h)) / (REACH * radius)
    with np.errstate(divide="ignore"):
        ring = np.maximum(0, np.floor(RINGS * (1 + np.log(rho) / np.log(16)))).astype(int)
    ring[rho > 1] = RINGS
    ring = np.minimum(ring, RINGS).ravel()
    weight = np.broadcast_to(np.cos(phi), h.shape).ravel()
    out = []
    for band in bands:
        v = band.ReadAsArray(c0, r0, c1 - c0, r1 - r0).astype(np.float64).ravel()
        ok = np.isfinite(v)
        area = np.bincount(ring[ok], weight[ok], RINGS + 1)[:RINGS]
        total = np.bincount(ring[ok], weight[ok] * v[ok], RINGS + 1)[:RINGS]
        with np.errstate(invalid="ignore", divide="ignore"):
            out.append(total / area)
    return np.array(out)


def in_order(features, rows, share):
    """The craters of a share of the longitudes as windows share blocks best."""
    place = [features[int(row[0])]["geometry"]["coordinates"] for row in rows]
    near = [i for i, p in enumerate(place) if abs(p[0]) <= 180 / share]
    return [rows[i] for i in sorted(near, key=lambda i: (-place[i][1] // 9.2, place[i][0]))]


def main(folder, rings, share=1):
    with open(os.path.join(folder, "craters.geojson")) as f:
        features = json.load(f)["features"]
    with open(rings) as f:
        rows = list(csv.reader(f))
    body, seconds, cpu = float(rows[0][1]), float(rows[0][3]), float(rows[0][5])
    read = in_order(features, rows[1:], share)
    times = len(rows[1:]) / len(read)
    files = sorted(glob.glob(os.path.join(folder, "*.tif")))
    sets = [gdal.Open(p) for p in files]
    bands = [d.GetRasterBand(1) for d in sets]
    geo = list(sets[0].GetGeoTransform())
    if sets[0].GetSpatialRef().IsProjected():
        geo = [np.degrees(g / body) for g in geo]
    worst, compared, taken, used = 0.0, 0, 0.0, 0.0
    for row in read:
        p = features[int(row[0])]
        lon, lat = p["geometry"]["coordinates"][:2]
        start, process = time.perf_counter(), time.process_time()
        means = ring_means(bands, geo, (lon, lat, float(row[1])), body)
        taken += time.perf_counter() - start
        used += time.process_time() - process
        if means is None:
            continue
        go = np.array([float(x) for x in row[2:]]).reshape(means.shape)
        if (np.isnan(go) != np.isnan(means)).any():
            sys.exit("crater %s: a ring is empty in one of the two" % row[0])
        worst = max(worst, np.nanmax(np.abs(go / means - 1), initial=0.0))
        compared += 1
    print("%d craters compared, %d maps: numpy %.2f s, sweep %.2f s, ratio %.1f; of processor time %.2f s, %.2f s, ratio %.1f; largest relative difference of a ring mean %.2g"
          % (compared, len(files), taken * times, seconds, taken * times / seconds, used * times, cpu, used * times / cpu, worst))
    if compared == 0 or worst > 2e-6:
        sys.exit(1)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]) if len(sys.argv) > 3 else 1)
