#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Our EOS-80 densities against TEOS-10, an independent equation in independent code (the Debian package python3-gsw).

TEOS-10 takes absolute salinity in g/kg, ours takes practical salinity. They are compared through the reference
salinity, SR = 35.16504/35 x SP, which is exact for sea water of standard composition. An aquarium's water is not quite
that; how far its density strays is beyond both equations.

The two are different fits to different measurements, so they agree to a tolerance, not to rounding.
Besides: the salinity that our inversion reads from the specific gravity of TEOS-10.

Exit 0: all agree; 1: some do not; 77: gsw is missing. Run from anywhere.
"""
import ctypes
import glob
import os
import subprocess
import sys
import tempfile

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))
SOURCES = ["src/calc/density.c", "src/calc/check.c", *sorted(glob.glob("src/base/*.c", root_dir=ROOT))]

# Measured with gsw 3.6.16 on the grids below: 0.0112 kg/m3 (S 42, -2 C), 0.0053 kg/m3 and 0.0054 psu (S 30, 20 C).
TOLERANCE_KG_M3 = 0.012       # all ice-free water of S 0 to 42, -2 to 40 C
TOLERANCE_TANK_KG_M3 = 0.006  # S 30 to 38, 20 to 30 C: where tanks are
TOLERANCE_TANK_PSU = 0.006    # there too, salinity from specific gravity against water at 25 C


def build(folder):
    """Our density as a shared object; ctypes calls it without a program in between."""
    path = os.path.join(folder, "density.so")
    command = [os.environ.get("CC", "cc"), "-std=c11", "-D_POSIX_C_SOURCE=200809L", "-Iinclude", "-Isrc", "-O2",
               "-fPIC", "-shared", "-o", path, *SOURCES, "-lm"]
    subprocess.run(command, cwd=ROOT, check=True)
    lib = ctypes.CDLL(path)
    number, out = ctypes.c_double, ctypes.POINTER(ctypes.c_double)
    for name, n_inputs in (("seawater_density", 2), ("specific_gravity", 3), ("salinity_from_specific_gravity", 3)):
        function = getattr(lib, name)
        function.restype = ctypes.c_bool
        function.argtypes = [number] * n_inputs + [out, ctypes.c_void_p]
    return lib


def call(function, *inputs):
    answer = ctypes.c_double()
    if not function(*inputs, ctypes.byref(answer), None):
        sys.exit(f"{function.__name__}{inputs} was refused")
    return answer.value


def worst(points, difference):
    """The largest difference and where it is."""
    return max((abs(difference(*p)), p) for p in points)


def main():
    try:
        import gsw
    except ImportError:
        print("skipped: python3-gsw is not installed")
        sys.exit(77)

    def teos(s, t):
        return float(gsw.rho_t_exact(gsw.SR_from_SP(s), t, 0))

    with tempfile.TemporaryDirectory() as folder:
        ours = build(folder)
        sea = [(float(s), float(t)) for s in range(0, 43) for t in range(-2, 41)
               if t >= float(gsw.t_freezing(gsw.SR_from_SP(s), 0, 0))]
        tank = [(s / 2, t / 2) for s in range(60, 77) for t in range(40, 61)]
        fresh_25 = teos(0, 25)

        def density_gap(s, t):
            return call(ours.seawater_density, s, t) - teos(s, t)

        def salinity_gap(s, t):
            return call(ours.salinity_from_specific_gravity, teos(s, t) / fresh_25, t, 25.0) - s

        rows = [("density, all of the range", "kg/m3", worst(sea, density_gap), TOLERANCE_KG_M3, len(sea)),
                ("density, tanks", "kg/m3", worst(tank, density_gap), TOLERANCE_TANK_KG_M3, len(tank)),
                ("salinity from specific gravity, tanks", "psu", worst(tank, salinity_gap), TOLERANCE_TANK_PSU,
                 len(tank))]

    failed = False
    for what, unit, (gap, (s, t)), tolerance, points in rows:
        ok = gap <= tolerance
        failed = failed or not ok
        print(f"{'ok' if ok else 'FAILED'}: {what}: {points} points, largest difference {gap:.5f} {unit} at S {s:g}, "
              f"{t:g} C; tolerance {tolerance:g}")
    sys.exit(failed)


if __name__ == "__main__":
    main()
