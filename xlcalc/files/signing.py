"""Signatures of files: who wrote one, where a checksum only shows that it is whole.

Ed25519 (RFC 8032) by the library cryptography. A key is a PEM file as other programs write it: PKCS 8 without
a password for the private one, SubjectPublicKeyInfo beside it for the public one. A signature covers the
bytes of the file as they are and stands in a plain text beside it: nothing has to be unpacked before it is
verified, and the file stays what it was.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from xlcalc.core.errors import InputError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.files.ownership import SIGNATURE, SIGNATURE_TITLE
from xlcalc.files.reading import read_bytes

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey

PUBLIC: Final = ".pub"
MOST_KEY: Final = 16 << 10
MOST_SIGNED: Final = 512 << 20
_LINES: Final = re.compile(
    re.escape(SIGNATURE_TITLE)
    + r"\r?\nFile: (?P<file>[^\r\n]*)\r?\nKey: SHA256:(?P<key>[0-9a-f]{64})"
    + r"\r?\nPublic: (?P<public>[0-9a-f]{64})\r?\nSignature: (?P<signature>[0-9a-f]{128})\r?\n?"
)


@dataclass(frozen=True)
class SignatureCheck:
    """Whether a signature is that of a key over a file, with a sentence for the user."""

    valid: bool
    text: str


def signature_path(path: Path) -> Path:
    """The file that holds the signature of another."""
    return Path(f"{path}{SIGNATURE}")


def new_key(path: Path) -> str:
    """Write a new private key, readable for its owner alone, and its public key beside it.

    Returns
    -------
    str
        Fingerprint of the key.

    Raises
    ------
    InputError
        One of both files is there already, or the library is missing.
    WorkbookFileError
        They cannot be written.
    """
    _require("--new-key")
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    key = Ed25519PrivateKey.generate()
    private = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    public = Path(f"{path}{PUBLIC}")
    for name in (path, public):
        if os.path.lexists(name):
            raise InputError(
                "--new-key", f"{name}, there already", "a name that is free; no key is overwritten"
            )
    _create(path, private, 0o600)
    try:
        _create(public, _pem(key.public_key()), 0o644)
    except BaseException:
        path.unlink()
        raise
    return fingerprint(key.public_key())


def read_private(path: Path) -> Ed25519PrivateKey:
    """A private key.

    Raises
    ------
    InputError
        The file is no Ed25519 private key without a password, others may read it, or the library is missing.
    """
    _require("--sign")
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    valid = "an Ed25519 private key in PEM without a password, as --new-key writes it"
    content = read_bytes(path, MOST_KEY, valid)
    if os.name == "posix" and path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO):
        raise InputError(
            "--sign", f"{path}, which others may read", f"a key of its owner alone (chmod 600 {path})"
        )
    try:
        key = load_pem_private_key(content, None)
    except (ValueError, TypeError, UnsupportedAlgorithm):
        raise InputError("--sign", f"{path}, no such key", valid) from None
    if not isinstance(key, Ed25519PrivateKey):
        raise InputError("--sign", f"{path}, a key of another kind", valid)
    return key


def read_public(path: Path) -> Ed25519PublicKey:
    """A public key.

    Raises
    ------
    InputError
        The file is no Ed25519 public key, or the library is missing.
    """
    _require("--public")
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    valid = f"an Ed25519 public key in PEM, the file *{PUBLIC} that --new-key writes"
    content = read_bytes(path, MOST_KEY, valid)
    try:
        key = load_pem_public_key(content)
    except (ValueError, UnsupportedAlgorithm):
        raise InputError("--public", f"{path}, no such key", valid) from None
    if not isinstance(key, Ed25519PublicKey):
        raise InputError("--public", f"{path}, a key of another kind", valid)
    return key


def fingerprint(key: Ed25519PublicKey) -> str:
    """SHA-256 of the public key in its binary form (SubjectPublicKeyInfo), as openssl gives it too."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    content = key.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return hashlib.sha256(content).hexdigest()


def signature_text(content: bytes, name: str, key: Ed25519PrivateKey) -> bytes:
    """The text that shows who wrote a file: its name, the key, and the signature of its bytes."""
    public = key.public_key()
    shown = "".join(char if char.isprintable() else "?" for char in name)
    lines = (
        SIGNATURE_TITLE,
        f"File: {shown}",
        f"Key: SHA256:{fingerprint(public)}",
        f"Public: {public.public_bytes_raw().hex()}",
        f"Signature: {key.sign(content).hex()}",
    )
    return "".join(f"{line}\n" for line in lines).encode("utf-8", "replace")


def verify(path: Path, key: Ed25519PublicKey) -> SignatureCheck:
    """Whether the signature beside a file is that of a key over its bytes.

    Raises
    ------
    InputError
        The file itself cannot be read.
    """
    beside = signature_path(path)
    if not os.path.lexists(beside):
        return SignatureCheck(False, f"MISSING: there is no {beside.name} beside {path.name}")
    try:
        text = read_bytes(beside, MOST_KEY).decode("utf-8")
    except (InputError, UnicodeDecodeError):
        text = ""
    found = _LINES.fullmatch(text)
    if found is None:
        return SignatureCheck(False, f"NOT VALID: {beside.name} is no signature as xlcalc writes it")
    content = read_bytes(path, MOST_SIGNED)
    signature = bytes.fromhex(found["signature"])
    wanted = fingerprint(key)
    if _is_valid(key, signature, content):
        if found["key"] != wanted or found["public"] != key.public_bytes_raw().hex():
            return SignatureCheck(False, f"NOT VALID: {beside.name} names another key than that which signed")
        return SignatureCheck(True, f"valid, by the key SHA256:{wanted}")
    if found["key"] != wanted:
        return SignatureCheck(False, f"FOREIGN: by the key SHA256:{found['key']}, not by SHA256:{wanted}")
    return SignatureCheck(
        False,
        f"NOT VALID: {path.name} was changed after it was signed, or {beside.name} belongs to another file",
    )


def _is_valid(key: Ed25519PublicKey, signature: bytes, content: bytes) -> bool:
    from cryptography.exceptions import InvalidSignature

    try:
        key.verify(signature, content)
    except InvalidSignature:
        return False
    return True


def _pem(key: Ed25519PublicKey) -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    return key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)


def _create(path: Path, content: bytes, mode: int) -> None:
    """A new file, never one that is there; nothing of it is left where it cannot be written."""
    try:
        flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
        with os.fdopen(os.open(path, flags, mode), "wb") as stream:
            try:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            except BaseException:
                with contextlib.suppress(OSError):
                    path.unlink()
                raise
    except FileExistsError:
        raise InputError("--new-key", f"{path}, there already", "a name that is free") from None
    except (OSError, ValueError) as problem:
        words = problem.strerror if isinstance(problem, OSError) else str(problem)
        raise WorkbookFileError(path, f"the key cannot be written ({words})") from None


def _require(option: str) -> None:
    if importlib.util.find_spec("cryptography") is None:
        valid = "used with the library for signatures: pip install 'xlcalc[sign]'"
        raise InputError(option, "not possible, for the library cryptography is not installed", valid)
