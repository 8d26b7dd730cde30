#!/usr/bin/env python3
"""Opens the frozen samples of the wire format with other libraries than Tailcomb's own.

Written from core/wire/FORMAT.md alone: if the two disagree, one of them is wrong. Prints what it checked and ends
with `N passed, M failed`; exits with 1 if anything failed.

    python3 tests/python/open_frame.py [samples.json]
"""

import base64
import hashlib
import io
import json
import pathlib
import struct
import sys
import zlib

import cbor2
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from mnemonic import Mnemonic
from nacl.bindings import (
    crypto_aead_xchacha20poly1305_ietf_decrypt as xchacha_open,
    crypto_aead_xchacha20poly1305_ietf_encrypt as xchacha_seal,
)
from nacl.exceptions import CryptoError

SAMPLES = pathlib.Path(__file__).resolve().parents[2] / "core" / "wire" / "samples" / "v1.json"
HEADER = struct.Struct(">2sBBI16s32sIQ32s24s")
ZERO_NONCE = bytes(24)
MAX_BODY = 8 << 20

passed = failed = 0


def check(what, ok):
    global passed, failed
    if ok:
        passed += 1
    else:
        failed += 1
    print(("ok      " if ok else "FAILED  ") + what)


def refused(what, act):
    """Checks that `act` is refused, by one of the errors that mean a refusal."""
    try:
        act()
    except (CryptoError, InvalidSignature, Refused):
        check(what, True)
    else:
        check(what, False)


def holds(what, act):
    """Checks that `act`, which raises where something does not fit, does not."""
    try:
        act()
    except (CryptoError, InvalidSignature, Refused) as error:
        check(f"{what}: {error!r}", False)
    else:
        check(what, True)


class Refused(Exception):
    """Something that the format does not allow."""


def require(condition, why):
    if not condition:
        raise Refused(why)


def hkdf(secret, salt, info):
    return HKDF(algorithm=hashes.SHA256(), length=32, salt=salt or None, info=info).derive(secret)


def sha256(data):
    return hashlib.sha256(data).digest()


def b32(data):
    return base64.b32encode(data).decode().rstrip("=").lower()


def sign_key(secret, info):
    return Ed25519PrivateKey.from_private_bytes(hkdf(secret, b"", info))


def box_key(secret, info):
    return X25519PrivateKey.from_private_bytes(hkdf(secret, b"", info))


def raw(key):
    return key.public_bytes_raw()


def verify(public, label, parts, signature):
    Ed25519PublicKey.from_public_bytes(public).verify(signature, label + b"\0" + parts)


def one_cbor(data):
    """One value that fills `data`."""
    stream = io.BytesIO(data)
    value = cbor2.CBORDecoder(stream).decode()
    # The decoder may read ahead; encoding again tells how long the value was.
    require(len(cbor2.dumps(value)) == len(data), "something is left over behind the value")
    return value


class Frame:
    def __init__(self, data):
        require(HEADER.size == 124 and 141 <= len(data) <= 1 << 20, "length")
        self.data, self.aad, self.rest = data, data[:124], data[124:]
        (magic, version, self.kind, self.key_gen, self.space, self.device, self.incarnation, self.dseq, self.prev,
         self.nonce) = HEADER.unpack(self.aad)
        require(magic == b"TC" and version == 1 and self.kind in (1, 2), "not a frame of version 1")
        require(self.incarnation > 0 and self.dseq > 0, "numbers are from 1")
        require((self.dseq == 1) == (self.prev == bytes(32)), "previous hash")

    @property
    def hash(self):
        return sha256(b"tailcomb frame v1\0" + self.data)

    def open_body(self, keyring):
        require(self.kind == 1, "kind")
        keys = [key for gen, key in keyring if gen == self.key_gen]
        require(keys, "unknown generation")
        for i, key in enumerate(keys):
            try:
                return xchacha_open(self.rest, self.aad, self.nonce, key)
            except CryptoError:
                if i + 1 == len(keys):
                    raise

    def open_keyring(self, secret):
        require(self.kind == 2 and self.nonce == ZERO_NONCE, "kind")
        me = raw(secret.public_key())
        boxes = [box for box in one_cbor(self.rest)["boxes"] if box[0] == me]
        require(boxes, "not for me")
        recipient, ephemeral, sealed = boxes[0]
        shared = secret.exchange(X25519PublicKey.from_public_bytes(ephemeral))
        key = hkdf(shared, ephemeral + recipient, b"tailcomb keyring box v1")
        keyring = one_cbor(xchacha_open(sealed, self.aad, ZERO_NONCE, key))
        require(keyring and max(gen for gen, _ in keyring) == self.key_gen, "generation")
        return keyring


def read_body(plain):
    form, content = plain[0], plain[1:]
    if form == 1:
        inflater = zlib.decompressobj(wbits=-15)
        content = inflater.decompress(content, MAX_BODY)
        require(inflater.eof and not inflater.unused_data and not inflater.unconsumed_tail, "deflate")
    else:
        require(form == 0, "form")
    return one_cbor(content)["docs"]


def verify_run(space, device, frames, signature):
    for before, frame in zip([None] + frames, frames):
        require((frame.space, frame.device) == (space, device), "stranger")
        if before:
            require(frame.incarnation == before.incarnation and frame.dseq == before.dseq + 1, "order")
            require(frame.prev == before.hash, "chain")
    verify(device, b"tailcomb run v1", space + frames[-1].hash, signature)


def open_request(name, data):
    envelope = one_cbor(data)
    digest = sha256(envelope["req"])
    verify(envelope["by"], b"tailcomb request v1", name.encode() + b"\0" + digest, envelope["sig"])
    request = one_cbor(envelope["req"])
    require(list(request) == [name.capitalize()], "another request")
    return envelope["by"], request[name.capitalize()]


def flips(data):
    for i in range(len(data) * 8):
        changed = bytearray(data)
        changed[i // 8] ^= 1 << (i % 8)
        yield bytes(changed)


def published():
    text = (b"Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the future, sunscreen "
            b"would be it.")
    sealed = xchacha_seal(text, bytes.fromhex("50515253c0c1c2c3c4c5c6c7"), bytes(range(0x40, 0x58)),
                          bytes(range(0x80, 0xA0)))
    check("XChaCha20-Poly1305: draft-irtf-cfrg-xchacha-03 A.3.1, tag",
          sealed[-16:].hex() == "c0875924c1c7987947deafd8780acf49")
    for name, secret, salt, info, okm in [
        ("1", b"\x0b" * 22, bytes(range(13)), bytes(range(0xF0, 0xFA)),
         "3cb25f25faacd57a90434f64d0362f2a2d2d0a90cf1a5a4c5db02d56ecc4c5bf"),
        ("2", bytes(range(0x50)), bytes(range(0x60, 0xB0)), bytes(range(0xB0, 0x100)),
         "b11e398dc80327a1c8e7f78c596a49344f012eda2d4efad8a050cc4c19afa97c"),
        ("3", b"\x0b" * 22, b"", b"", "8da4e775a563c18f715f802a063c5a31b8a11f5c5ee1879ec3454e5f3c738d2d"),
    ]:
        check(f"HKDF: RFC 5869 appendix A, case {name}", hkdf(secret, salt, info).hex() == okm)
    for name, secret, message, signature in [
        ("1", "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60", "",
         "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595b"
         "be24655141438e7a100b"),
        ("2", "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb", "72",
         "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb430"
         "2aeeb00d291612bb0c00"),
        ("3", "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7", "af82",
         "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716e"
         "d28dc027beceea1ec40a"),
    ]:
        key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
        check(f"Ed25519: RFC 8032 section 7.1, test {name}",
              key.sign(bytes.fromhex(message)).hex() == signature)
    alice, bob = (X25519PrivateKey.from_private_bytes(bytes.fromhex(k)) for k in (
        "77076d0a7318a57d3c16c17251b26645df4c2f87ebc0992ab177fba51db92c2a",
        "5dab087e624a8a4b79e17f8b83800ee66f3bb1292618b6fd1c2f8b27ff88e0eb"))
    check("X25519: RFC 7748 section 6.1", alice.exchange(bob.public_key()).hex()
          == "4a5d9d5ba4ce2de1728e3bf480350f25e07e21c947d19e3376f09b3c1e161742")
    for entropy, words in [
        ("00" * 32, "abandon " * 23 + "art"),
        ("7f" * 32, "legal winner thank year wave sausage worth useful " * 2
         + "legal winner thank year wave sausage worth title"),
        ("80" * 32, "letter advice cage absurd amount doctor acoustic avoid " * 2
         + "letter advice cage absurd amount doctor acoustic bless"),
        ("ff" * 32, "zoo " * 23 + "vote"),
        ("68a79eaca2324873eacc50cb9c6eca8cc68ea5d936f98787c60c7ebc74e6ce7c",
         "hamster diagram private dutch cause delay private meat slide toddler razor book happy fancy gospel tennis "
         "maple dilemma loan word shrug inflict delay length"),
    ]:
        check(f"BIP 39: {entropy[:8]}…", Mnemonic("english").to_mnemonic(bytes.fromhex(entropy)) == words)


def samples(path):
    s = json.loads(path.read_text(encoding="utf-8"))
    h = bytes.fromhex
    space = h(s["space"])

    # Identities.
    boxes = {}
    for who in ("founder", "second"):
        seed = h(s[who]["seed"])
        boxes[who] = box_key(seed, b"tailcomb station box v1")
        check(f"{who}: device from its seed",
              raw(sign_key(seed, b"tailcomb station sign v1").public_key()) == h(s[who]["device"]))
        check(f"{who}: box key from its seed", raw(boxes[who].public_key()) == h(s[who]["box"]))
    founder, newcomer = h(s["founder"]["device"]), h(s["second"]["device"])

    root = bytes(Mnemonic("english").to_entropy(s["recovery"]["words"]))
    check("recovery: words to root", root == h(s["recovery"]["root"]))
    check("recovery: root to words", Mnemonic("english").to_mnemonic(root) == s["recovery"]["words"])
    recovery_sign = sign_key(root, b"tailcomb recovery sign v1")
    boxes["recovery"] = box_key(root, b"tailcomb recovery box v1")
    check("recovery: signing key from the root", raw(recovery_sign.public_key()) == h(s["recovery"]["public"]))
    check("recovery: box key from the root", raw(boxes["recovery"].public_key()) == h(s["recovery"]["box"]))

    # Frames, their chain and signatures.
    frames = [Frame(h(f)) for f in s["frames"]]
    check("frames: hashes", [f.hash.hex() for f in frames] == s["hashes"])
    check("frames: kinds", [f.kind for f in frames] == [2, 1, 1, 2, 1])
    check("frames: place", all(f.space == space and f.device == founder and f.incarnation == 3 for f in frames))
    check("frames: numbers from 1", [f.dseq for f in frames] == [1, 2, 3, 4, 5])
    check("frames: chain over both runs", [f.prev for f in frames] == [bytes(32)] + [f.hash for f in frames[:-1]])
    for run in s["runs"]:
        of_run = [frames[i] for i in run["frames"]]
        holds(f"run {run['frames']}: chain and signature",
              lambda: verify_run(space, founder, of_run, h(run["signature"])))
        refused(f"run {run['frames']}: another salon's signature",
                lambda: verify(founder, b"tailcomb run v1", bytes(16) + of_run[-1].hash, h(run["signature"])))
        refused(f"run {run['frames']}: without its last frame",
                lambda: verify_run(space, founder, of_run[:-1], h(run["signature"])))

    # Keyrings.
    keyrings = [[list(e) for e in one_cbor(h(k))] for k in s["keyrings"]]
    check("keyrings: generations", [[gen for gen, _ in k] for k in keyrings] == [[1], [1, 2]])
    for frame, keyring, openers in ((0, 0, ("founder", "recovery")), (3, 1, ("founder", "second", "recovery"))):
        for who in openers:
            opened = [list(e) for e in frames[frame].open_keyring(boxes[who])]
            check(f"frame {frame}: {who} opens the keyring", opened == keyrings[keyring])
    refused("frame 0: not for the second station", lambda: frames[0].open_keyring(boxes["second"]))

    # Bodies.
    small = [["visit/7", [b"\x01\x02\x03", b"second change"]]]
    repeated = b"a change that says the same again and again. "
    large = [[doc, [repeated * n for n in (1, 2, 3)]] for doc in ("client/1", "visit/1", "day/2031-04-05")]
    for i, keyring, form, plain, docs in (
        (1, 0, 0, "small_body", small), (2, 0, 1, "deflated_body", large), (4, 1, 0, "small_body", small),
    ):
        opened = frames[i].open_body(keyrings[keyring])
        check(f"frame {i}: opens to the plain body", opened == h(s[plain]) and opened[0] == form)
        check(f"frame {i}: documents and changes", [list(d) for d in read_body(opened)] == docs)
        key = keyrings[keyring][-1][1]
        check(f"frame {i}: sealed again byte for byte",
              frames[i].aad + xchacha_seal(opened, frames[i].aad, frames[i].nonce, key) == frames[i].data)
    refused("frame 4: the first keyring does not open it", lambda: frames[4].open_body(keyrings[0]))

    wrong = 0
    for changed in flips(frames[1].data):
        try:
            Frame(changed).open_body(keyrings[0])
            wrong += 1
        except (Refused, CryptoError):
            pass
    check(f"frame 1: each of its {len(frames[1].data) * 8} bits, changed, is refused", wrong == 0)

    # Invitation.
    invitation = s["invitation"]
    secret = h(invitation["secret"])
    invitation_sign = sign_key(secret, b"tailcomb invitation sign v1")
    check("invitation: key from its secret", raw(invitation_sign.public_key()) == h(invitation["key"]))
    link_check = b32(sha256(b"tailcomb invitation link v1\0" + secret))[:4]
    check("invitation: link", invitation["link"] == f"https://relay.example/salons/join#{b32(secret)}-{link_check}")
    sealed = h(invitation["sealed"])
    seal_key = hkdf(secret, b"", b"tailcomb invitation seal v1")
    welcome = one_cbor(xchacha_open(sealed[24:], space, sealed[:24], seal_key))
    check("invitation: what is sealed in it",
          welcome["space"] == space and welcome["recovery_box"] == h(s["recovery"]["box"])
          and [list(e) for e in welcome["keyring"]] == keyrings[1])
    refused("invitation: another salon", lambda: xchacha_open(sealed[24:], bytes(16), sealed[:24], seal_key))

    # Requests.
    requests = {}
    for name, data in s["requests"].items():
        by, requests[name] = open_request(name, h(data))
        check(f"request {name}: signed by the founder", by == founder)
        refused(f"request {name}: refused under another name", lambda: open_request(name + "x", h(data)))
    check("requests: all nine", sorted(requests) == [
        "fetch", "found", "invite", "join", "keep", "pull", "push", "recover", "revoke"])
    check("request found: fields", requests["found"] == {"space": space, "recovery": h(s["recovery"]["public"])})
    check("request push: fields", requests["push"] == {
        "space": space, "frames": [f.data for f in frames[:3]], "run_signature": h(s["runs"][0]["signature"])})
    epoch = 0x0102030405060708
    check("request pull: fields", requests["pull"] == {
        "space": space, "cursor": {"epoch": epoch, "seq": 3, "hash": frames[2].hash}, "skip_incarnation": 3,
        "wait_ms": 30000, "max_bytes": 1 << 20})
    check("request invite: fields", requests["invite"] == {
        "space": space, "key": h(invitation["key"]), "sealed": sealed})
    check("request join: fields", requests["join"]["key"] == h(invitation["key"]))
    holds("request join: proof for the newcomer",
          lambda: verify(requests["join"]["key"], b"tailcomb join v1", newcomer, requests["join"]["proof"]))
    refused("request join: proof for nobody else",
            lambda: verify(requests["join"]["key"], b"tailcomb join v1", founder, requests["join"]["proof"]))
    check("request recover: fields", requests["recover"]["recovery"] == h(s["recovery"]["public"]))
    recover = requests["recover"]
    holds("request recover: proof for the newcomer",
          lambda: verify(recover["recovery"], b"tailcomb recover v1", newcomer, recover["proof"]))
    check("request revoke: fields", requests["revoke"] == {"space": space, "device": newcomer})
    picture = h((SAMPLES.parent / "picture.hex").read_text().strip())
    check("request keep: fields", requests["keep"] == {"space": space, "bytes": picture})
    check("request fetch: fields", requests["fetch"] == {"space": space, "hash": sha256(picture)})

    # Answers.
    answers = {name: one_cbor(h(data)) for name, data in s["answers"].items()}
    stamps = {"received_ms": 1932000000123, "sent_ms": 1932000000456}
    standing = {"incarnation": 3, "last_dseq": 5, "last_hash": frames[4].hash}
    expected = {
        "founded": {"Founded": {"epoch": epoch, "stamps": stamps}},
        "pushed": {"Pushed": {"epoch": epoch, "standing": standing, "seq": 5, "stamps": stamps}},
        "pulled": {"Pulled": {
            "entries": [
                {"seq": 4, "frame": frames[3].data, "run_signature": None},
                {"seq": 5, "frame": frames[4].data, "run_signature": h(s["runs"][1]["signature"])},
            ],
            "cursor": {"epoch": epoch, "seq": 5, "hash": frames[4].hash},
            "head": 5,
            "standing": {"incarnation": 0, "last_dseq": 0, "last_hash": bytes(32)},
            "stamps": stamps,
        }},
        "invited": {"Invited": {"until_ms": 1932000600000, "stamps": stamps}},
        "admitted": {"Admitted": {"space": space, "sealed": sealed, "stamps": stamps}},
        "revoked": {"Revoked": {"stamps": stamps}},
        "kept": {"Kept": {"stamps": stamps}},
        "fetched": {"Fetched": {"bytes": picture, "stamps": stamps}},
        "refused": {"Refused": {
            "code": "Fork", "say": "Another frame stands at this place already.", "standing": standing, "epoch": None,
            "retry_ms": 1500, "stamps": stamps,
        }},
    }
    check("answers: all nine", sorted(answers) == sorted(expected))
    for name, answer in expected.items():
        check(f"answer {name}: fields", answers.get(name) == answer)


def main():
    published()
    try:
        samples(pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else SAMPLES)
    except Exception as error:  # whatever stops the reading is a disagreement as well
        check(f"reading on: {error!r}", False)
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
