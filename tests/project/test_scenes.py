"""Scenes and planned assets that cannot be: each is reported with its place and what to do."""

from __future__ import annotations

import pytest

from tests.makers import make_project, problems, project_text, write_text

CHOOSE = 'choose = [{ count = 1, of = ["crew"] }]'


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """One project's files; each test writes its own project file over the last."""
    return make_project(tmp_path_factory.mktemp("project") / "ferry")


WRONG = [
    (CHOOSE + '\nnever = [["crew", "ada"]]', "", "[scene.play] never[0][1]: the scene chooses no 'ada'", "name members that"),
    (CHOOSE + '\nnever = [["crew", "crw"]]', "", "[scene.play] never[0][1]: the scene chooses no 'crw'", "did you mean crew?"),
    (CHOOSE + '\nnever = [["crew", "crew"]]', "", "[scene.play] never[0]: ['crew', 'crew'] are not two different members", "each once"),
    (CHOOSE + '\nnever = [["crew"]]', "", "[scene.play] never[0]: ['crew'] are not two different members", "name two or more"),
    (CHOOSE + '\ndirect = ["qay"]', "", "[scene.play] direct[0]: there is no 'qay'", "did you mean quay?"),
    (CHOOSE + '\ndirect = ["crew"]', '[defaults.sprite]\npacking = "best"', "direct[0]: 'ada' may be packed", "leave it out"),
    (
        CHOOSE + '\ndirect = ["ada"]',
        '[defaults.sprite]\narrangement = "pieces"\npool = "cells"\n[pool.cells]\npacking = "lz4"',
        "[scene.play] direct[0]: 'cells' may be packed in the image",
        'give it packing = "stored", or leave it out of direct',
    ),
    (
        CHOOSE + '\ndirect = ["crew"]\npacked = ["quay", "ada"]',
        "",
        "[scene.play] packed[1]: 'ada' is under direct too, which takes no memory",
        "leave it out of one of the two",
    ),
    (CHOOSE, '[planned.cy]\nkind = "data"\nbytes = 4\ncount = 257', "[planned.cy] count: expected a whole number, 1 to 256", "1 to 256"),
    (CHOOSE, '[planned.ada]\nkind = "data"\nbytes = 4', "[planned.ada]: 'ada' is already a sprite", "remove what was planned"),
    (CHOOSE, '[planned.Cy]\nkind = "data"\nbytes = 4', "[planned.Cy]: 'Cy' is not a valid name", "small letters"),
    (CHOOSE, '[planned.cy]\nkind = "data"\nbytes = 4\nframes = 3', "[planned.cy] frames: a data has no frames", "leave it out"),
    (CHOOSE, '[planned.cy]\nkind = "data"', "[planned.cy] bytes: is missing: there is no data to estimate from", "give bytes"),
    (CHOOSE, '[planned.cy]\nkind = "sprite"\nwidth = 3', "[planned.cy] height: is missing", "give height, frames, or like, or bytes"),
    (CHOOSE, '[planned.cy]\nkind = "sprite"\nlike = "adda"', "[planned.cy] like: there is no sprite 'adda'", "did you mean ada?"),
    (CHOOSE, '[planned.cy]\nkind = "data"\nlike = "ada"', "[planned.cy] like: data is like nothing else", "give bytes"),
    (CHOOSE, '[planned.crew]\nkind = "data"\nbytes = 4', "[bundle] crew: 'crew' is also a planned asset", "give the bundle another name"),
    (
        'choose = [{ count = 4, of = ["crew", "cy"], repeat = false }]',
        '[planned.cy]\nkind = "data"\nbytes = 4\ncount = 2',
        "[[scene.play.choose]] number 1 count: 4 of 3",
        "choose fewer, or allow repeat",
    ),
    (CHOOSE + "\nstreamed.ada = { buffers = 0 }", "", "[scene.play.streamed.ada] buffers: expected a whole number, 1 to 64", "1 to 64"),
    (CHOOSE + "\nstreamed.adda = {}", "", "[scene.play.streamed.adda]: the scene does not load 'adda'", "did you mean ada?"),
    (CHOOSE + "\nstreamed.level = {}", "", "[scene.play.streamed.level]: the scene does not load 'level'", "name what always or choose"),
    (
        CHOOSE + "\nstreamed.quay = {}",
        "",
        "[scene.play.streamed.quay]: 'quay' is a background, which has no frames to stream",
        "name a sprite",
    ),
    (
        CHOOSE + "\nstreamed.figures = {}",
        "",
        "[scene.play.streamed.figures]: 'figures' is a palette, which has no frames",
        "name a sprite, or a bundle",
    ),
    (
        CHOOSE + "\nwindow.crew = {}",
        "",
        "[scene.play.window.crew]: there is no background in 'crew', which has no picture to move",
        "that holds one",
    ),
    (
        CHOOSE + '\nstreamed.ada = {}\ndirect = ["crew"]',
        "",
        "[scene.play.streamed.ada]: 'ada' is under direct too",
        "leave it out of one of the two",
    ),
    (
        CHOOSE + '\nwindow.quay = {}\npacked = ["quay"]',
        "",
        "[scene.play.window.quay]: 'quay' is under packed too",
        "leave it out of one of the two",
    ),
    (CHOOSE + "\nstreamed.ada = {}\nstreamed.crew = {}", "", "[scene.play.streamed.crew]: 'ada' is under ada already", "name it once"),
    (
        CHOOSE + "\nstreamed.ada = {}",
        '[defaults.sprite]\npacking = "best"',
        "[scene.play.streamed.ada]: 'ada' may be packed in the image as a whole, and cannot be fetched by frame",
        'give it packing = "stored"',
    ),
    (
        CHOOSE + "\nstreamed.ada = {}",
        '[defaults.sprite]\narrangement = "pieces"\npool = "cells"\n[pool.cells]\npacking = "lz4"',
        "[scene.play.streamed.ada]: 'cells' may be packed in the image as a whole",
        'give it packing = "stored"',
    ),
    (CHOOSE + "\nwindow.quay = {}", '[defaults.background]\npacking = "lz4"', "cannot be fetched in strips", 'packing = "stored"'),
    (
        CHOOSE + "\nstreamed.ada = { buffers = 1, within = 2 }",
        "",
        "[scene.play.streamed.ada] within: 2 pictures for a fetch into the only buffer",
        "buffers = 2",
    ),
    (
        CHOOSE + "\nstreamed.ada.role = 'hero'\nsets.heroes = 1",
        "",
        "[scene.play.sets] heroes: nothing streamed here has the role 'heroes'",
        "did you mean hero?",
    ),
    (
        CHOOSE + '\nwindow.quay.tiles = "streamed"',
        "",
        "[scene.play.window.quay] tiles: 'quay' is a bitmap, which has no tiles",
        "leave it out",
    ),
    (
        CHOOSE.replace("crew", "cy") + "\nstreamed.cy = {}",
        '[planned.cy]\nkind = "sprite"\nlike = "ada"',
        "[scene.play.streamed.cy]: 'cy' is planned, and has no frames or pixels to measure yet",
        "leave it out until it exists",
    ),
]


@pytest.mark.parametrize(("choose", "more", "wrong", "remedy"), WRONG, ids=[one[2][:50] for one in WRONG])
def test_wrong_scene_or_planned_asset_is_refused(folder, choose, more, wrong, remedy):
    """One problem, with its table, key and remedy."""
    write_text(folder, project_text((CHOOSE, choose), more=more + "\n"))
    (said,) = problems(folder)
    assert wrong in said
    assert remedy in said


def test_planned_assets_stand_in_bundles_and_scenes(folder):
    """What is planned may be named wherever an asset may."""
    more = '[planned.cy]\nkind = "sprite"\nlike = "ada"\ncount = 3\n'
    change = 'choose = [{ count = 2, of = ["crew", "cy"] }]\nnever = [["crew", "cy"]]\ndirect = ["cy"]'
    write_text(folder, project_text((CHOOSE, change), ('crew = ["ada"', 'crew = ["cy", "ada"'), more=more))
    assert problems(folder) == []


def test_animations_that_are_not_there_are_not_streamed(folder):
    """A sprite without animations has no unit of one."""
    walk = '[sprite.ada.animations]\nwalk = { frames = "walk_*", ms = 80 }\n'
    write_text(folder, project_text((CHOOSE, CHOOSE + "\nstreamed.ada.unit = 'animation'"), (walk, "")))
    (said,) = problems(folder)
    assert "[scene.play.streamed.ada] unit: 'ada' has no animations" in said
    assert 'write unit = "frame"' in said
