"""Fetching a Vosk model, when a family asks for it: the only place that ever opens a connection.

What lives here: the address, the download that can go on where it broke off, the check, and the unpacking that trusts nothing.
What must not: being called without having been asked for. What is written is a public model, and nothing of a session.
"""

import hashlib
import re
import shutil
import ssl
import stat
import time
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from http.client import HTTPException, HTTPMessage
from pathlib import Path, PurePosixPath
from typing import IO, Any
from urllib.error import HTTPError, URLError
from urllib.request import HTTPRedirectHandler, Request, build_opener

from assistant import __version__
from assistant.errors import ModelError

ADDRESS = "https://alphacephei.com/vosk/models/"  # the Vosk project's own page of models
ATTEMPTS = 4
STALL_S = 30.0  # no byte for this long is a line that broke off
CHUNK_BYTES = 1 << 16
LARGEST_ZIP_BYTES = 4 << 30  # the largest Vosk models are about 2 GB (from memory)
LARGEST_UNPACKED_BYTES = 12 << 30
LARGEST_RATIO = 20  # weights hardly shrink: the Korean model's is 3; a bomb's is over 1,000
MOST_FILES = 2_000  # a model has about 20
NO_MORE = 416  # HTTP: the range that was asked for begins after the end

Progress = Callable[[int, int | None], None]
"""Told how many bytes there are, and of how many, where that is known."""

_NAME = re.compile(r"vosk-model-[a-z0-9][a-z0-9.-]*")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_RANGE = re.compile(r"bytes (\d+)-")


@dataclass(frozen=True, slots=True)
class Offer:
    """A model that can be fetched. ``size`` in bytes, None where nobody told."""

    name: str
    sha256: str
    size: int | None = None
    about: str = ""
    address: str = ADDRESS

    @property
    def url(self) -> str:
        """Where its archive lies."""
        return f"{self.address}{self.name}.zip"


SMALL_ENGLISH = Offer(
    name="vosk-model-small-en-us-0.15",
    sha256="30f26242c4eb449f948e42cb302dd7a686cb29a3423a8367f99ff41780942498",
    size=41_205_931,
    about="English, small: the one to begin with (Apache-2.0)",
)


def offer(name: str, sha256: str) -> Offer:
    """Another model from the same page, with the digest that whoever asks for it trusts.

    Raises:
        ModelError: name or digest are not written as such.
    """
    if not _NAME.fullmatch(name):
        raise ModelError(f"{name!r} is no name of a Vosk model. Copy one from {ADDRESS}, such as {SMALL_ENGLISH.name}.")
    if not _DIGEST.fullmatch(sha256.lower()):
        raise ModelError(f"{sha256!r} is no SHA-256 digest. Give the 64 digits (0-9, a-f) of one that you trust.")
    return Offer(name, sha256.lower())


def by_hand(model: Offer, folder: Path) -> str:
    """How to do without this module."""
    return (
        f"By hand: fetch {model.url} with a browser, see that its SHA-256 digest is {model.sha256}, and unpack it so that "
        f"{folder / model.name / 'am' / 'final.mdl'} is there."
    )


def fetch(
    model: Offer, folder: Path, progress: Progress = lambda done, total: None, *, pause: Callable[[float], None] = time.sleep
) -> Path:
    """Bring a model into the folder; where it already lies there, nothing happens.

    What came before a line broke off is kept, and the next call goes on from there. The model appears under its name only when
    it is whole.

    Returns:
        the model's folder.

    Raises:
        ModelError: it could not be fetched, or is not the one that was asked for, or is no model.
    """
    target = folder / model.name
    if target.is_dir():
        return target
    part = folder / f".{model.name}.zip.part"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _download(model, part, progress, pause)
        _check(model, part)
        _unpack(part, target)
    except OSError as error:
        raise ModelError(f"{folder} cannot be written to ({error.strerror}). Make room there, or make it yours.") from error
    return target


# --- the download -------------------------------------------------------------------------------------------------------


class _SaferRedirect(HTTPRedirectHandler):
    """Follows a server elsewhere, but never from an encrypted line to one that is not."""

    def redirect_request(
        self, req: Request, fp: IO[bytes], code: int, msg: str, headers: HTTPMessage, newurl: str
    ) -> Request | None:
        if req.type == "https" and not newurl.lower().startswith("https:"):
            raise ModelError(f"{req.host} sends us to {newurl}, which is not encrypted. Nothing was fetched.")
        return super().redirect_request(req, fp, code, msg, headers, newurl)


def _download(model: Offer, part: Path, progress: Progress, pause: Callable[[float], None]) -> None:
    why = ""
    for attempt in range(ATTEMPTS):
        if attempt:
            pause(2.0**attempt)
        try:
            _go_on(model, part, progress)
        except HTTPError as error:
            error.close()
            why = f"{error.code} {error.reason}"
            if error.code == NO_MORE:  # we have all that there is; the digest will tell whether that is the model
                return
            if error.code < 500:
                raise ModelError(f"{model.url} answers {why}. Is the name right? No model came.") from error
        except (URLError, HTTPException, TimeoutError, ConnectionError, ssl.SSLError) as error:
            why = str(getattr(error, "reason", error)) or type(error).__name__
        except ModelError:
            part.unlink(missing_ok=True)
            raise
        else:
            return
    came = part.stat().st_size / 1e6 if part.exists() else 0
    raise ModelError(
        f"{model.url} could not be fetched whole ({why}). {came:.1f} MB came and are kept: run the same command to go on."
    )


def _go_on(model: Offer, part: Path, progress: Progress) -> None:
    """Fetch what is missing; all of it where the server cannot go on in the middle."""
    have = part.stat().st_size if part.exists() else 0
    if have and have == model.size:
        return
    headers = {"User-Agent": f"tray-turns/{__version__}", **({"Range": f"bytes={have}-"} if have else {})}
    opener = build_opener(_SaferRedirect)
    with opener.open(Request(model.url, headers=headers), timeout=STALL_S) as response:
        goes_on = have and response.status == 206 and _begins_at(response) == have
        have = have if goes_on else 0
        total = have + int(length) if (length := response.headers.get("Content-Length")) else None
        _refuse_other_size(model, total)
        with part.open("ab" if goes_on else "wb") as file:
            for chunk in iter(lambda: response.read1(CHUNK_BYTES), b""):
                file.write(chunk)
                have += len(chunk)
                _refuse_other_size(model, max(have, total or 0), at_least=total is None)
                progress(have, total)
    if total is not None and have < total:
        raise ConnectionError("the line broke off")


def _begins_at(response: Any) -> int | None:
    match = _RANGE.match(response.headers.get("Content-Range", ""))
    return int(match[1]) if match else None


def _refuse_other_size(model: Offer, size: int | None, *, at_least: bool = False) -> None:
    """A file of another size is not the model; find out before a disk is full of it."""
    if size is None:
        return
    largest = model.size or LARGEST_ZIP_BYTES
    if size > largest or (model.size and not at_least and size != model.size):
        raise ModelError(f"{model.url} has {size:,} bytes in place of {largest:,}. That is not this model; nothing was kept.")


def _check(model: Offer, part: Path) -> None:
    with part.open("rb") as file:
        found = hashlib.file_digest(file, "sha256").hexdigest()
    if found != model.sha256:
        part.unlink()
        raise ModelError(
            f"What came from {model.url} is not the model that was asked for: its SHA-256 digest is {found} in place of "
            f"{model.sha256}. It was deleted. Try again; if it stays so, do not use it."
        )


# What zipfile raises at an archive that is damaged, encrypted, or packed in a way it does not know; and a name inside that is
# both a file and a folder.
_DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, NotImplementedError, FileExistsError, NotADirectoryError)


# --- the unpacking ------------------------------------------------------------------------------------------------------


def _unpack(archive: Path, target: Path) -> None:
    """Unpack beside the target, and give it its name only when it is whole."""
    aside = target.parent / f".{target.name}.unpacking"
    shutil.rmtree(aside, ignore_errors=True)
    try:
        with zipfile.ZipFile(archive) as packed:
            for member in _trusted(packed, archive.stat().st_size):
                _write(packed, member, aside.joinpath(*PurePosixPath(member.filename).parts))
        _model_in(aside).rename(target)
        archive.unlink()
    except _DAMAGED as error:
        archive.unlink()
        raise ModelError(f"The archive of {target.name} cannot be unpacked ({error}). Nothing was kept of it.") from error
    except ModelError:
        archive.unlink()
        raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _trusted(packed: zipfile.ZipFile, packed_bytes: int) -> Iterator[zipfile.ZipInfo]:
    """The files inside, once every one of them has been looked at."""
    members = packed.infolist()
    unpacked = sum(member.file_size for member in members)
    if len(members) > MOST_FILES:
        raise ModelError(f"The archive holds {len(members):,} files; no model has so many. Nothing was kept of it.")
    if unpacked > min(LARGEST_UNPACKED_BYTES, LARGEST_RATIO * packed_bytes):
        raise ModelError(f"The archive would swell to {unpacked:,} bytes; no model does. Nothing was kept of it.")
    for member in members:
        if not _is_plain(member):
            raise ModelError(f"The archive holds {member.orig_filename!r}, which no model needs. Nothing was kept of it.")
    names = [member.filename.lower() for member in members]
    if len(set(names)) < len(names):
        raise ModelError("The archive holds the same name twice. Nothing was kept of it.")
    return (member for member in members if not member.is_dir())


def _is_plain(member: zipfile.ZipInfo) -> bool:
    """A file or folder, and inside."""
    kind = stat.S_IFMT(member.external_attr >> 16)
    parts = member.orig_filename.rstrip("/").split("/")
    inside = all(part not in ("", ".", "..") and not set(part) & set("\\:\0") for part in parts)
    return inside and kind in (0, stat.S_IFREG, stat.S_IFDIR)


def _write(packed: zipfile.ZipFile, member: zipfile.ZipInfo, place: Path) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    with packed.open(member) as source, place.open("xb") as file:  # zipfile reads no more than the header promised
        shutil.copyfileobj(source, file)


def _model_in(folder: Path) -> Path:
    """Where in this folder the model is: one level down, as Vosk packs them, or here."""
    for home in (folder, *(path for path in folder.glob("*") if path.is_dir())):
        if any((home / place).is_file() for place in ("am/final.mdl", "final.mdl")):
            return home
    raise ModelError("The archive holds no Vosk model: there is no am/final.mdl in it. Nothing was kept of it.")
