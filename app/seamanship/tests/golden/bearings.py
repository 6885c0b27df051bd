"""Makes bearings.json: fixes by bearings, reckoned by numpy's least squares with a Jacobian by differences.

    python3 bearings.py > bearings.json

The plane is made of the radii of curvature of WGS 84 at the first mark, and no derivative is written down, so that neither
the sums nor the formulas of the program under test are used. Seeds are fixed: the same file comes out.
"""

import json
import math

import numpy as np

A, F = 6378137.0, 1 / 298.257223563
E2 = F * (2 - F)


def scales(latitude_deg):
    sine = math.sin(math.radians(latitude_deg))
    w = math.sqrt(1 - E2 * sine * sine)
    north = A * (1 - E2) / w**3
    east = A / w * math.cos(math.radians(latitude_deg))
    return math.radians(north), math.radians(east)


def off(at, marks, sights):
    bearings = np.degrees(np.arctan2(marks[:, 0] - at[0], marks[:, 1] - at[1]))
    given = np.array([sight["bearing_deg"] for sight in sights])
    return (given - bearings + 180) % 360 - 180


def fix(sights, start):
    first = sights[0]["mark"]
    north, east = scales(first["latitude_deg"])
    marks = np.array([
        [(s["mark"]["longitude_deg"] - first["longitude_deg"]) * east, (s["mark"]["latitude_deg"] - first["latitude_deg"]) * north]
        for s in sights
    ])
    sigma = np.array([s["error_deg"] for s in sights])
    at = np.array([(start[1] - first["longitude_deg"]) * east, (start[0] - first["latitude_deg"]) * north])
    for _ in range(60):
        columns = []
        for axis in range(2):
            step = np.zeros(2)
            step[axis] = 0.5
            columns.append((off(at + step, marks, sights) - off(at - step, marks, sights)) / sigma)
        jacobian = np.stack(columns, axis=1)
        change = np.linalg.lstsq(jacobian, -off(at, marks, sights) / sigma, rcond=None)[0]
        at = at + change
    values, vectors = np.linalg.eigh(np.linalg.inv(jacobian.T @ jacobian))
    longer = vectors[:, 1]
    return {
        "latitude_deg": first["latitude_deg"] + at[1] / north,
        "longitude_deg": first["longitude_deg"] + at[0] / east,
        "major_m": math.sqrt(values[1]),
        "minor_m": math.sqrt(values[0]),
        "axis_deg": math.degrees(math.atan2(longer[0], longer[1])) % 180,
        "worst_deg": float(np.max(np.abs(off(at, marks, sights)))),
    }


HEADER = {
    "title": "Fixes by compass bearings of known marks, with the ellipse of one standard error",
    "source": {
        "primary": "bearings.py: numpy least squares, Jacobian by differences",
        "versions": {
            "numpy": "2.4.6"
        }
    },
    "units": "degrees true (latitude north positive, longitude east positive), metres",
    "tolerance": {
        "latitude_deg, longitude_deg": "1e-7 degrees",
        "major_m, minor_m": "1e-3 relative",
        "worst_deg": "1e-4 degrees",
        "axis_deg": "0.1 degrees, where major_m is over 1.1 minor_m"
    },
    "licence": "the numbers were computed for this project and stand under its licence"
}


def main():
    random = np.random.default_rng(20261127)
    cases = []
    for number in range(40):
        ship = (float(random.uniform(-60, 60)), float(random.uniform(-179, 179)))
        north, east = scales(ship[0])
        first = float(random.uniform(0, 360))
        sights = []
        for index in range(2 + number % 3):
            true = first + index * float(random.uniform(40, 100))
            distance = float(random.uniform(400, 4000))
            error = float(random.choice([0.5, 1.0, 2.0]))
            mark = {
                "latitude_deg": round(ship[0] + distance * math.cos(math.radians(true)) / north, 7),
                "longitude_deg": round(ship[1] + distance * math.sin(math.radians(true)) / east, 7),
            }
            bearing = round((true + float(random.normal(0, error))) % 360, 1)
            sights.append({"mark": mark, "bearing_deg": bearing, "error_deg": error})
        cases.append({"sights": sights, **fix(sights, ship)})
    print(json.dumps({"header": HEADER, "cases": cases}, indent=1))


main()
