#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The demo's sun and daylight another way, and beside them what the program says. Prints TAP.

Shares nothing with src/light/sky: the sun by the low-precision formulas of the Astronomical Almanac (page C5: 0.01
degrees from 1950 to 2050), refraction by Bennett's formula, the table as a grid of points with a ray each, glass by
Rivero's fit, the sky over directions instead of over the window, and what the room throws back by the formula of
the Building Research Station for a window and a skyline (Hopkinson, Longmore and Petherbridge 1954).
"""
import json
import os
import subprocess
from datetime import datetime, timedelta, timezone
from math import asin, atan2, cos, degrees, exp, hypot, pi, radians, sin, sqrt, tan

LATITUDE, LONGITUDE = radians(58.35), radians(11.25)
CLOCK = timezone(timedelta(hours=1))
# away, aside, width, height, sill; metres, bearings in degrees; the table's centre is the origin.
WINDOWS = [(205, 1.25, 0.0, 1.80, 1.30, 0.85), (295, 3.10, 0.75, 0.90, 1.10, 1.00)]
LONG, SHORT, TOP = 1.40, 0.80, 0.76
SKYLINE = (215, 262, 19)
GLASS, BARS = 0.78, 0.85


def sun(when, air=True):
    """Azimuth, elevation as seen (else without the air); radians."""
    n = (when - datetime(2000, 1, 1, 12, tzinfo=timezone.utc)).total_seconds() / 86400
    mean, anomaly = radians(280.460 + 0.9856474 * n), radians(357.528 + 0.9856003 * n)
    longitude = mean + radians(1.915 * sin(anomaly) + 0.020 * sin(2 * anomaly))
    obliquity = radians(23.439 - 0.0000004 * n)
    ascension = atan2(cos(obliquity) * sin(longitude), cos(longitude))
    declination = asin(sin(obliquity) * sin(longitude))
    hour = radians(15 * ((18.697374558 + 24.06570982441908 * n) % 24)) + LONGITUDE - ascension
    height = asin(sin(LATITUDE) * sin(declination) + cos(LATITUDE) * cos(declination) * cos(hour))
    azimuth = atan2(-sin(hour) * cos(declination),
                    sin(declination) * cos(LATITUDE) - cos(declination) * sin(LATITUDE) * cos(hour))
    true, h = degrees(height), degrees(height)
    for _ in range(4 if air and true > -1 else 0):
        h = true + 1 / tan(radians(h + 7.31 / (h + 4.4))) / 60
    return azimuth % (2 * pi), radians(h)


def under_skyline(azimuth, elevation):
    return SKYLINE[0] <= degrees(azimuth) % 360 <= SKYLINE[1] and degrees(elevation) < SKYLINE[2]


def seen(point, azimuth, elevation):
    """The window by which a point of the table (right, out of the first wall) sees that way, or None."""
    if elevation <= 0:
        return None
    x = point[0] * cos(radians(205)) + point[1] * sin(radians(205))
    y = -point[0] * sin(radians(205)) + point[1] * cos(radians(205))
    nearest, found = float("inf"), None
    for window in WINDOWS:
        facing, away, aside, width, height, sill = window
        out = (sin(radians(facing)), cos(radians(facing)))
        pace = sin(azimuth) * out[0] + cos(azimuth) * out[1]
        if pace <= 1e-9:
            continue
        flat = (away - x * out[0] - y * out[1]) / pace
        if flat >= nearest:
            continue
        nearest, found = flat, None
        side = (x + flat * sin(azimuth)) * out[1] - (y + flat * cos(azimuth)) * out[0]
        up = TOP + flat * tan(elevation)
        if abs(side - aside) <= width / 2 and sill <= up <= sill + height:
            found = window
    return found


def share(azimuth, elevation, across=56, along=32):
    lit = 0
    for i in range(across):
        for j in range(along):
            lit += seen((((i + 0.5) / across - 0.5) * LONG, ((j + 0.5) / along - 0.5) * SHORT), azimuth,
                        elevation) is not None
    return lit / (across * along)


def touched(azimuth, elevation):
    """Whether any point of the table's edge is lit: a patch comes and goes over it."""
    edge = [(sign * LONG / 2, (i / 50 - 0.5) * SHORT) for sign in (-1, 1) for i in range(51)]
    edge += [((i / 50 - 0.5) * LONG, sign * SHORT / 2) for sign in (-1, 1) for i in range(51)]
    return any(seen(point, azimuth, elevation) for point in edge)


def changes(test, first, last, air=True):
    """The times at which a test of the sun changes, to a second."""
    times, step = [], timedelta(minutes=3)
    before, at = test(*sun(first, air)), first
    while at < last:
        now = test(*sun(at + step, air))
        if now != before:
            low, high = at, at + step
            while high - low > timedelta(seconds=1):
                middle = low + (high - low) / 2
                low, high = (low, middle) if test(*sun(middle, air)) == now else (middle, high)
            times.append(high)
        before, at = now, at + step
    return times


def rivero(angle):
    return 1.018 * GLASS * cos(angle) * (1 + sin(angle) ** 3)


def from_normal(window, azimuth, elevation):
    return cos(elevation) * cos(azimuth - radians(window[0]))


def overcast_lx(outside):
    """On the hero: the sky by directions, the room by the Station's formula."""
    total, step = 0.0, radians(0.5)
    for i in range(180):
        elevation = (i + 0.5) * step
        for j in range(720):
            azimuth = (j + 0.5) * step
            window = seen((0, 0), azimuth, elevation)
            if window is None or under_skyline(azimuth, elevation):
                continue
            luminance = (1 + 2 * sin(elevation)) / 3 * 9 / (7 * pi) * outside
            square = from_normal(window, azimuth, elevation)
            total += luminance * rivero(atan2(sqrt(1 - square * square), square)) * BARS * sin(elevation) * cos(
                elevation) * step * step
    glass, area, floor = 1.80 * 1.30 + 0.90 * 1.10, 2 * 6.2 * 4.4 + 2 * (6.2 + 4.4) * 2.32, 6.2 * 4.4
    walls = area - 2 * floor
    mean = (floor * (0.30 + 0.80) + walls * 0.72) / area
    lower = (floor * 0.30 + walls / 2 * 0.72) / (floor + walls / 2)
    upper = (floor * 0.80 + walls / 2 * 0.72) / (floor + walls / 2)
    # C falls from 39 without a skyline by 4 for 10 degrees; it stands before a third of what the wide window sees.
    return total + outside / 100 * GLASS * BARS * glass / (area * (1 - mean)) * ((39 - 0.4 * 19 / 3) * lower + 5 * upper)


POINTS = []


def check(name, got, want, within):
    POINTS.append(abs(got - want) <= within)
    print(f"{'ok' if POINTS[-1] else 'not ok'} {len(POINTS)} - {name}")
    print(f"# {got:.6g}, the other way {want:.6g}, within {within:g}")


def check_time(name, got, want, within_s):
    check(f"{name}, {want.astimezone(CLOCK):%H:%M:%S}", (datetime.fromisoformat(got) - want).total_seconds(), 0, within_s)


def ask(*words):
    program = os.path.join(os.environ["PC_BUILD_ROOT"], "src/front/cli/platecall")
    site = os.path.join(os.environ["PC_SOURCE_ROOT"], "demo/site.json")
    done = subprocess.run([program, *words, "--site", site, "--facing", "205", "--json"], capture_output=True, check=True)
    return json.loads(done.stdout)


def main():
    first, last = datetime(2027, 3, 18, 5, tzinfo=CLOCK), datetime(2027, 3, 18, 20, tzinfo=CLOCK)
    day = ask("sun", "--at", "2027-03-18T14:00+01:00", "--again", "2027-09-25T00:00+02:00")
    azimuth, elevation = sun(datetime(2027, 3, 18, 14, tzinfo=CLOCK))
    check("azimuth at 14:00", day["azimuth_deg"], degrees(azimuth), 0.02)
    check("elevation at 14:00", day["elevation_deg"], degrees(elevation), 0.02)
    rise, down = changes(lambda a, e: degrees(e) > -50 / 60, first, last, air=False)
    check_time("sunrise", day["rise"], rise, 10)
    check_time("sunset", day["set"], down, 10)
    noon = max((first + timedelta(seconds=10 * i) for i in range(5400)), key=lambda t: sun(t)[1])
    check_time("highest", day["highest"], noon, 30)
    check("how high", day["highest_deg"], degrees(sun(noon)[1]), 0.02)
    # The middle of the sun; the program tells when its edge comes, a minute sooner.
    touch = changes(touched, first, last)
    check_time("first sun on the table", day["table_in_sun"][0]["from"], touch[0] - timedelta(seconds=60), 45)
    hero = changes(lambda a, e: seen((0, 0), a, e) is not None, first, last)
    cut = changes(lambda a, e: seen((0, 0), a, e) is not None and not under_skyline(a, e), first, last)
    check_time("sun on the hero", day["hero_in_sun"][0]["from"], hero[0], 20)
    check_time("off the hero", day["hero_in_sun"][0]["to"], cut[1], 20)
    check_time("off the hero without the skyline", day["hero_in_sun_without_skyline"][0]["to"], hero[1], 20)
    for row in day["rows"][126:186:12]:
        at = datetime.fromisoformat(row["at"])
        check(f"share at {at:%H:%M}", row["table_share_ratio"], share(*sun(at)), 0.02)
    then = sun(datetime(2027, 3, 18, 14, tzinfo=CLOCK))
    september = datetime(2027, 9, 25, 11, tzinfo=timezone.utc)
    again = min((september + timedelta(seconds=10 * i) for i in range(1500)),
                key=lambda t: hypot((sun(t)[0] - then[0]) * cos(then[1]), sun(t)[1] - then[1]))
    check_time("the same sun on 25 September", day["again"]["at"], again, 30)

    light = ask("window", "--at", "2027-03-18T12:24+01:00", "--scrim-stops", "1.3333333")
    azimuth, elevation = sun(datetime(2027, 3, 18, 12, 24, tzinfo=CLOCK))
    h = degrees(elevation)
    mass = 1 / (sin(elevation) + 0.50572 * (6.07995 + h) ** -1.6364)
    normal = 127500 * (1 + 0.034 * cos(2 * pi * (77 - 2) / 365)) * exp(-0.21 * mass)
    square = from_normal(WINDOWS[0], azimuth, elevation)
    direct = normal * sin(elevation) * rivero(atan2(sqrt(1 - square * square), square))
    check("direct sun through the glass, lx", light["direct_lx"], direct, 0.03 * direct)
    check("after the scrim, lx", light["scrimmed_lx"], direct / 2**(4 / 3), 0.03 * direct / 2.5)
    outside = 300 + 21000 * sin(elevation)
    check("outside, overcast, lx", light["outside_overcast_lx"], outside, 5)
    inside = overcast_lx(outside)
    check("overcast on the hero, lx", light["overcast_lx"], inside, 0.08 * inside)
    print(f"1..{len(POINTS)}")


main()
