"""Signatures beside a file: a changed byte, a foreign key, a swapped or missing signature, each said plainly.

The sources outside this project: keys and signatures of RFC 8032, section 7.1, and the program openssl.
"""

from __future__ import annotations

import builtins
import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from xlcalc.core.errors import InputError
from xlcalc.files.ownership import is_ours
from xlcalc.files.signing import (
    fingerprint,
    new_key,
    read_private,
    read_public,
    signature_path,
    signature_text,
    verify,
)

ed25519 = pytest.importorskip("cryptography.hazmat.primitives.asymmetric.ed25519")
RFC_8032 = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
        "d25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
        "387b2eaeb4302aeeb00d291612bb0c00",
    ),
]


@pytest.fixture
def signed(tmp_path: Path) -> tuple[Path, Path]:
    """A file with its signature, and the key."""
    key, file = tmp_path / "my.key", tmp_path / "pages.xlsx"
    new_key(key)
    file.write_bytes(b"PK pages " * 99)
    signature_path(file).write_bytes(signature_text(file.read_bytes(), file.name, read_private(key)))
    return file, key


def public(key: Path) -> ed25519.Ed25519PublicKey:
    return read_public(Path(f"{key}.pub"))


@pytest.mark.parametrize(("secret", "shared", "message", "signature"), RFC_8032)
def test_signatures_of_the_rfc(secret: str, shared: str, message: str, signature: str) -> None:
    key = ed25519.Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    text = signature_text(bytes.fromhex(message), "file", key).decode()
    assert f"Public: {shared}\n" in text
    assert f"Signature: {signature}\n" in text


def test_a_sound_signature_names_its_key(signed: tuple[Path, Path]) -> None:
    file, key = signed
    found = verify(file, public(key))
    assert found.valid
    assert found.text == f"valid, by the key SHA256:{fingerprint(public(key))}"
    assert is_ours(signature_path(file))


def test_every_changed_byte_is_found(signed: tuple[Path, Path]) -> None:
    file, key = signed
    content, text = file.read_bytes(), signature_path(file).read_bytes()
    for position in range(0, len(content), 53):
        file.write_bytes(content[:position] + bytes([content[position] ^ 1]) + content[position + 1 :])
        assert "was changed after it was signed" in verify(file, public(key)).text
    for changed in (content + b"\0", content[:-1], b""):
        file.write_bytes(changed)
        assert not verify(file, public(key)).valid
    file.write_bytes(content)
    after_name = text.index(b"Key:")
    for position in range(after_name, len(text) - 1):
        signature_path(file).write_bytes(text[:position] + bytes([text[position] ^ 1]) + text[position + 1 :])
        assert not verify(file, public(key)).valid, position


def test_foreign_swapped_missing_and_broken_signatures(signed: tuple[Path, Path], tmp_path: Path) -> None:
    file, key = signed
    other, second = tmp_path / "other.key", tmp_path / "second.xlsx"
    new_key(other)
    assert verify(file, public(other)).text.startswith("FOREIGN: by the key SHA256:")
    second.write_bytes(b"PK other pages")
    assert verify(second, public(key)).text == "MISSING: there is no second.xlsx.sig beside second.xlsx"
    shutil.copy(signature_path(file), signature_path(second))
    assert "second.xlsx.sig belongs to another file" in verify(second, public(key)).text
    foreign = signature_text(file.read_bytes(), file.name, read_private(other)).decode()
    own = signature_path(file).read_text()
    claimed = re.sub(
        "(?s)Key:.*Signature", own[own.index("Key:") : own.index("Signature:")] + "Signature", foreign
    )
    signature_path(file).write_text(claimed)
    assert "NOT VALID" in verify(file, public(key)).text
    assert "names another key" in verify(file, public(other)).text
    for broken in (
        b"",
        b"\xff\xfe",
        b"x" * 99_999,
        own.replace("Ed25519", "RSA").encode(),
        own.encode() + b"more",
    ):
        signature_path(file).write_bytes(broken)
        assert "is no signature as xlcalc writes it" in verify(file, public(key)).text


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl is not installed")
def test_openssl_agrees(signed: tuple[Path, Path], tmp_path: Path) -> None:
    file, key = signed
    raw = tmp_path / "raw.sig"
    raw.write_bytes(bytes.fromhex(signature_path(file).read_text().split("Signature: ")[1]))
    command = ["openssl", "pkeyutl", "-verify", "-pubin", "-inkey", f"{key}.pub", "-rawin"]
    done = subprocess.run(
        [*command, "-in", str(file), "-sigfile", str(raw)], capture_output=True, check=False
    )
    if b"rawin" in done.stderr or b"oneshot" in done.stderr:
        pytest.skip("this openssl cannot sign without a digest")
    assert b"Verified Successfully" in done.stdout, done.stderr
    der = subprocess.run(
        ["openssl", "pkey", "-pubin", "-in", f"{key}.pub", "-outform", "DER"], capture_output=True, check=True
    ).stdout
    assert hashlib.sha256(der).hexdigest() == fingerprint(public(key))


def test_a_key_is_for_its_owner_and_never_overwritten(tmp_path: Path) -> None:
    key = tmp_path / "my.key"
    new_key(key)
    before = key.read_bytes(), Path(f"{key}.pub").read_bytes()
    if os.name == "posix":
        assert key.stat().st_mode & 0o777 == 0o600
    with pytest.raises(InputError, match="there already"):
        new_key(key)
    second = tmp_path / "second.key"
    Path(f"{second}.pub").symlink_to(tmp_path / "nowhere")
    with pytest.raises(InputError, match="there already"):
        new_key(second)
    assert not second.exists()
    assert (key.read_bytes(), Path(f"{key}.pub").read_bytes()) == before


@pytest.mark.skipif(os.name != "posix", reason="needs modes of POSIX")
def test_a_key_that_others_may_read_is_refused(tmp_path: Path) -> None:
    key = tmp_path / "my.key"
    new_key(key)
    for mode in (0o640, 0o604, 0o666):
        key.chmod(mode)
        with pytest.raises(InputError, match="which others may read"):
            read_private(key)


def test_what_is_no_key_is_refused(tmp_path: Path) -> None:
    from cryptography.hazmat.primitives.asymmetric import rsa
    from cryptography.hazmat.primitives.serialization import (
        BestAvailableEncryption,
        Encoding,
        NoEncryption,
        PrivateFormat,
        PublicFormat,
    )

    key = tmp_path / "my.key"
    new_key(key)
    other = rsa.generate_private_key(65537, 2048)
    locked = BestAvailableEncryption(b"password")
    own = read_private(key)
    path = tmp_path / "file"
    for content in (
        b"", b"\0" * 99, b"x" * 99_999, Path(f"{key}.pub").read_bytes(),
        other.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()),
        own.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, locked),
    ):  # fmt: skip
        path.write_bytes(content)
        path.chmod(0o600)
        with pytest.raises(InputError):
            read_private(path)
    for content in (
        b"", key.read_bytes(),
        other.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo),
    ):  # fmt: skip
        path.write_bytes(content)
        with pytest.raises(InputError):
            read_public(path)
    for missing in (tmp_path, tmp_path / "none"):
        with pytest.raises(InputError):
            read_private(missing)


def test_the_missing_library_is_said_in_one_line(
    run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, find = builtins.__import__, importlib.util.find_spec

    def without(name: str, *others: object, **named: object) -> object:
        if name.startswith("cryptography"):
            raise ImportError(name)
        return real(name, *others, **named)

    monkeypatch.setattr(builtins, "__import__", without)
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *rest: None if name == "cryptography" else find(name, *rest)
    )
    (tmp_path / "b.xlsx").write_bytes(b"")
    for arguments in (
        ("--new-key", "my.key"),
        ("b.xlsx", "-o", "p.xlsx", "--sign", "my.key"),
        ("b.xlsx", "--check", "p.xlsx", "--public", "my.key.pub"),
    ):
        done = run("submittal", *arguments)
        assert done.refused_in_one_line, done.err
        assert "pip install 'xlcalc[sign]'" in done.err
