"""Set up and run Broodsweep on a machine that has only Python 3.11+ (standard library only)."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"
TOOLS = HERE / ".tools"
WINDOWS = os.name == "nt"
BIN = "Scripts" if WINDOWS else "bin"
PYTHON = VENV / BIN / ("python.exe" if WINDOWS else "python")


def call(*command: object, **more: object) -> None:
    """Run a command in this folder; stop with its exit code when it fails."""
    done = subprocess.run([str(part) for part in command], cwd=HERE, env=environment(), check=False, **more)  # type: ignore[call-overload]
    if done.returncode:
        sys.exit(done.returncode)


def environment() -> dict[str, str]:
    """Give the tools the machine's own certificates, and no interpreter but the one named to them."""
    return {
        **{key: value for key, value in os.environ.items() if key not in {"UV_PYTHON", "VIRTUAL_ENV"}},
        "UV_PYTHON_DOWNLOADS": "never",
        "UV_SYSTEM_CERTS": "1",
    }


def find_uv() -> str:
    """Return uv, from PATH or from a tools environment of our own made by pip."""
    found = shutil.which("uv")
    if found and subprocess.run([found, "--version"], capture_output=True, check=False).returncode == 0:
        return found
    own = TOOLS / BIN / ("uv.exe" if WINDOWS else "uv")
    if not own.exists():
        try:
            import venv

            venv.EnvBuilder(with_pip=True, clear=True).create(TOOLS)
        except (ImportError, subprocess.CalledProcessError, SystemExit):
            sys.exit(
                "This Python has no venv module. On Debian: apt-get install python3-venv. Then run this again."
            )
        call(TOOLS / BIN / "python", "-m", "pip", "install", "--quiet", "uv==0.13.9")
    return str(own)


def stamp() -> str:
    """Digest of everything that the environment is made from."""
    digest = hashlib.sha256(sys.version.encode())
    names = ["pyproject.toml", "requirements-dev.lock", "build_hook.py"]
    for path in [HERE / name for name in names] + front_end_files():
        digest.update(str(path.relative_to(HERE)).encode() + path.read_bytes())
    return digest.hexdigest()


def front_end_files() -> list[Path]:
    """Files the front end and the catalogues are built from."""
    field = HERE / "field"
    words = sorted((HERE / "src/broodsweep/words").rglob("*.po"))
    inside = [
        p for p in sorted(field.rglob("*")) if p.is_file() and not {"node_modules", "dist"} & set(p.parts)
    ]
    return inside + words


def setup() -> None:
    """Make .venv with the command and the developer tools, and build the front end."""
    if sys.version_info < (3, 11):
        sys.exit(f"Broodsweep needs Python 3.11 or newer; this is {sys.version.split()[0]}.")
    mark = VENV / "broodsweep.stamp"
    now = stamp()
    if mark.exists() and mark.read_text() == now and PYTHON.exists():
        return
    print("Setting up .venv: the locked packages, then the front end (about a minute).", flush=True)
    uv = find_uv()
    if not PYTHON.exists():
        call(uv, "venv", "--quiet", "--clear", "--python", sys.executable, VENV)
    # --python names the environment: without it uv might sync the interpreter that runs this script.
    call(uv, "pip", "sync", "--quiet", "--python", PYTHON, "--require-hashes", "requirements-dev.lock")
    call(uv, "pip", "install", "--quiet", "--python", PYTHON, "--no-deps", "--editable", ".")
    mark.write_text(stamp())


BROWSER = {"chromium": "chromium", "certutil": "libnss3-tools"}
"""Debian's packages by program, for the browser tests."""
SLOW = {"nginx": "nginx-light", "caddy": "caddy"}
"""For `check-slow`: the proxies of docs/serving.md."""
DATA = ("r-cran-surveillance", "r-cran-sparr")
"""Debian's packages that carry published data sets of epidemics."""


def data() -> None:
    """Unpack the data packages that slow checks read, in .tools: R itself is not installed."""
    into = TOOLS / "debian"
    if (into / "usr/lib/R/site-library/sparr/data/fmd.rda").exists() or not shutil.which("apt-get"):
        return
    print(f"apt-get download {' '.join(DATA)} (into .tools, for `check-slow`)", flush=True)
    into.mkdir(parents=True, exist_ok=True)
    subprocess.run(["apt-get", "download", "-qq", *DATA], cwd=into, check=True)
    for package in into.glob("*.deb"):
        call("dpkg-deb", "-x", package, into)


def system(programs: dict[str, str]) -> None:
    """Install Debian's packages by apt; without apt say what is missing."""
    path = f"{os.environ.get('PATH', '')}:/usr/sbin"
    missing = [package for name, package in programs.items() if not shutil.which(name, path=path)]
    if not missing:
        return
    if not shutil.which("apt-get"):
        sys.exit(f"No apt-get here: install by hand what these hold: {', '.join(missing)}.")
    print(f"apt-get install {' '.join(missing)} (only tests use them)", flush=True)
    call("apt-get", "update", "-qq")
    # RUNLEVEL=1 keeps Debian from starting a web server that was only wanted for a test.
    os.environ |= {"DEBIAN_FRONTEND": "noninteractive", "RUNLEVEL": "1"}
    call("apt-get", "install", "-y", "-qq", "--no-install-recommends", "fonts-dejavu-core", *missing)


def lint() -> None:
    """Formatting, lint, types and import contracts."""
    setup()
    call(VENV / BIN / "ruff", "format", "--check", ".")
    call(VENV / BIN / "ruff", "check", ".")
    call(VENV / BIN / "mypy")
    call(VENV / BIN / "lint-imports", "--no-cache")


def test(more: list[str]) -> None:
    """Lint, then every test that is not marked slow."""
    lint()
    call(PYTHON, "-m", "pytest", "-m", "not slow", "-n", "2", "--dist", "loadgroup", *more)


def lock() -> None:
    """Write both locks anew: hashes, and no registry address."""
    uv = find_uv()
    common = [
        "--generate-hashes",
        "--universal",
        "--no-emit-index-url",
        "--no-header",
        "--no-annotate",
        "--python-version",
        "3.11",
    ]
    call(uv, "pip", "compile", "--quiet", *common, "pyproject.toml", "-o", "requirements.lock")
    call(
        uv,
        "pip",
        "compile",
        "--quiet",
        *common,
        "pyproject.toml",
        "--group",
        "dev",
        "-o",
        "requirements-dev.lock",
    )


def main() -> None:
    """Do the step named on the command line."""
    step, more = (sys.argv[1] if len(sys.argv) > 1 else "help"), sys.argv[2:]
    match step:
        case "setup":
            setup()
        case "system":
            system(BROWSER)
        case "system-slow":
            system(BROWSER | SLOW)
            data()
        case "lock":
            lock()
        case "lint":
            lint()
        case "test":
            test(more)
        case "check-slow":
            setup()
            call(PYTHON, "-m", "pytest", "-m", "slow", *more)
        case "bench":
            setup()
            call(PYTHON, "-m", "bench", *more)
        case "demo":
            setup()
            call(VENV / BIN / "broodsweep", "demo", *more)
        case _:
            sys.exit(
                "python3 run.py setup | demo | test | check-slow | bench | lint | lock | system | system-slow"
            )


if __name__ == "__main__":
    main()
