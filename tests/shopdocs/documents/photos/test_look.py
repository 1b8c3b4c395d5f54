"""Hints for the bench: blurred, dark, double."""

import pytest
from PIL import Image, ImageEnhance, ImageFilter

from shopdocs.documents.photos import look as looks
from shopdocs.documents.photos.look import alike, distance
from shopdocs.documents.photos.sizes import upright


def look(data):
    return looks.look(upright(data, within=(709, 591)))


def fingerprint(data):
    return looks.fingerprint(upright(data, within=(709, 591)))


def codes(data):
    return [warning.code for warning in look(data)]


@pytest.mark.parametrize("seed", range(5))
def test_a_sharp_bright_picture_gets_no_hint_and_a_blurred_or_dark_one_does(make, seed):
    scene = make["bench"](seed, (1024, 768))
    assert codes(make["encoded"](scene, "JPEG")) == []
    assert codes(make["encoded"](scene.filter(ImageFilter.GaussianBlur(10)), "JPEG")) == ["blurred"]
    assert "dark" in codes(make["encoded"](ImageEnhance.Brightness(scene).enhance(0.2), "JPEG"))


def test_a_hint_says_what_to_do_and_what_was_measured(make):
    (warning, *_) = look(make["encoded"](Image.new("RGB", (90, 90), (8, 8, 8)), "PNG"))
    assert warning.code == "dark"
    assert warning.measured == pytest.approx(8, abs=1)
    assert "more light" in warning.text


def test_a_tiny_picture_does_not_trip_the_look(make):
    assert codes(make["encoded"](Image.new("RGB", (1, 1), "white"), "PNG")) == ["blurred"]


def test_the_same_photo_is_found_again_after_re_saving_resizing_and_turning(make):
    scene = make["bench"](3, (1024, 768))
    original = fingerprint(make["encoded"](scene, "JPEG", quality=92))
    lying = scene.transpose(Image.Transpose.ROTATE_90)
    others = [
        make["encoded"](scene, "JPEG", quality=40),
        make["encoded"](scene.resize((400, 300)), "WEBP"),
        make["encoded"](ImageEnhance.Brightness(scene).enhance(1.1), "PNG"),
        make["encoded"](lying, "JPEG", exif=make["camera_exif"](6)),
    ]
    for other in others:
        assert alike(original, fingerprint(other))


def test_different_photos_are_not_taken_for_doubles(make):
    prints = [fingerprint(make["encoded"](make["bench"](seed), "JPEG")) for seed in range(12)]
    pairs = [(a, b) for i, a in enumerate(prints) for b in prints[:i]]
    assert len(pairs) == 66
    assert not any(alike(a, b) for a, b in pairs)


def test_a_rising_and_a_falling_ramp_are_sixty_four_apart(make):
    ramp = Image.linear_gradient("L").transpose(Image.Transpose.ROTATE_90)
    rising, falling = ramp, ramp.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    one, other = (fingerprint(make["encoded"](image, "PNG")) for image in (rising, falling))
    assert sorted((one, other)) == [0, 2**64 - 1]
    assert distance(one, other) == 64
    assert distance(one, one) == 0
    assert distance(0b1011, 0b0001) == 2
