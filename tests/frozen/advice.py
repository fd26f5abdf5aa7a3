"""What is advised and handed over: matches, accounts, curves, weights, papers."""

from __future__ import annotations

import math
from typing import Final

from tests.frozen.playing import Scenario, Step, asked, done, refused
from tests.frozen.responses import curve, hole, polar
from tests.frozen.rooms_and_papers import BAD_BUDGET, BAD_ROOM, BUDGET, ROOM

TOWER: Final = "'Bramble Thatch Trivet Tower'"
STACKED: Final = "'Bramble Thatch Trivet Stacked Centre'"
WIDE: Final = "'Bramble Thatch Trivet Wide Centre'"
LOW: Final = "'Kettle Moss Bobbin Low Centre'"
MILL: Final = "--room 'Mill House'"
LOFT: Final = "--room 'Sail Loft'"

MATCH: Final = Scenario(
    (
        Step(f"match {MILL} --format json", name="mill_house"),
        *asked("loft", f"match {TOWER.join(['--mains ', ' '])} {LOFT} --top 1"),
        *asked("bobbin", f"match --mains 'Kettle Moss Bobbin Tower' {MILL} --top 2 --budget '900 EUR'", wide=False),
        *done(f"match --mains 'Cobble Mere Pestle Tower' {LOFT} --budget 500"),
        *done(f"match --mains 'Chalk Wicker Hurdle Long Panel' {LOFT} --top 40 --format csv"),
        *done(f"match --mains 'Plum Anvil Swage Tower' {MILL} --in-stock"),
        *done("match --mains 'Nettle Barrow Dibble Stand' --room den.toml --weights weights.toml --top 3"),
        Step(f"match {MILL} --top 12", columns=110),
        *asked("wide", f"explain {WIDE} {MILL}", csv=True),
        *asked("ruled_out", f"explain 'Plum Anvil Swage Grand Centre' {MILL} --place 'media unit bay'", wide=False),
        *asked("open", f"explain 'Cobble Mere Ladle Centre' {MILL} --place 'top of the unit'", wide=False, csv=False),
        *done(f"explain 'Chalk Wicker Hurdle Panel' --mains 'Sorrel Loom Heddle Tower' {LOFT} --budget '1500 EUR'"),
        *asked("two", f"compare {STACKED} {WIDE} {MILL}"),
        *asked("three", f"compare {STACKED} {WIDE} {LOW} {LOFT} --place 'plinth behind the screen'", wide=False),
        *done(f"compare {LOW} {STACKED} {MILL} --weights weights.toml --mains 'Kettle Moss Bobbin Tower'"),
        *done("demo --top 1"),
        Step("demo --top 1 --format csv"),
        Step("demo --top 1 --format json", name="demo"),
        *refused(
            f"match --mains 'Bramble Thatch Trivet Towr' {MILL}",
            "match --room 'Mill Hous'",
            "match --room nowhere.toml",
            f"match {MILL} --budget lots",
            f"match {MILL} --budget '500 XX'",
            f"match {MILL} --weights heavy",
            f"match {MILL} --weights bad.toml",
            "match --room bad_room.toml",
            f"match {MILL} --role surround",
            f"match --mains {WIDE} {MILL} --budget -5",
            f"explain 'No Such Centre' {MILL}",
            f"explain {WIDE} {MILL} --place attic",
            f"compare {WIDE} {WIDE} {MILL}",
            f"compare {WIDE} {MILL}",
            f"compare {WIDE} 'No Such' {MILL}",
            "demo --keep catalogue.db",
            "page --listen 0.0.0.0",
            "page --listen everywhere",
            "page --passwords who",
            "page --listen 127.0.0.1 --passwords nobody",
        ),
        *refused(
            "match",
            f"match {MILL} --top 0",
            f"match {MILL} --format xml",
            "explain",
            code=2,
        ),
        *done(f"explain {TOWER} {MILL} --place 'media unit bay'"),
    ),
    {
        "den.toml": ROOM,
        "bad_room.toml": BAD_ROOM,
        "weights.toml": "coverage = 0.5\ntimbre = 0.3\nheadroom = 0.2\n",
        "bad.toml": "covrage = 0.5\ntimbre = -1\n",
    },
)

CURVES: Final = Scenario(
    (
        *done(f"curve import {STACKED} stacked.txt --kind on_axis --dry-run"),
        *done(f"curve import {STACKED} stacked.txt --kind on_axis --smoothing 1/12 --date 2025-02-01"),
        *done(f"curve import {STACKED} stacked.txt --kind on_axis --smoothing 1/12 --date 2025-02-01"),
        *done(f"curve import {STACKED} polar.csv --kind horizontal"),
        *done(f"curve import {TOWER} tower.txt --kind on_axis"),
        *done(f"curve import {TOWER} polar.csv --kind horizontal"),
        *done(f"curve import {TOWER} v_-10deg.txt v_10deg.txt --kind vertical --angle-from-name"),
        *asked("list", f"curve list {STACKED}"),
        *asked("axis", f"curve show {STACKED} --kind on_axis"),
        Step(f"curve show {STACKED} --kind horizontal --angle 30 --smooth 3 --out thirty.svg", keeps=("thirty.svg",)),
        *done(f"curve show {TOWER} --smooth 0"),
        *asked("match", f"match {MILL} --top 1", wide=False),
        *done(f"explain {STACKED} {MILL} --place 'top of the unit'"),
        *done(f"curve remove {STACKED} --kind horizontal --angle 30"),
        *done(f"curve remove {STACKED} --kind on_axis"),
        *done(f"curve remove {TOWER} --all"),
        *done(f"curve list {TOWER}"),
        *refused(
            f"curve import {WIDE} bad.txt --kind on_axis",
            f"curve import {WIDE} narrow.txt --kind on_axis",
            f"curve import {WIDE} nowhere.txt bad.txt --kind on_axis",
            "curve import 'No Such' tower.txt --kind on_axis",
            f"curve import {WIDE} tower.txt --kind horizontal",
            f"curve import {WIDE} tower.txt --kind horizontal --angle 400",
            f"curve show {TOWER}",
            f"curve remove {TOWER} --all",
            f"curve show {STACKED} --kind in_room",
            f"curve show {STACKED} --out x.gif",
            f"curve import {WIDE} tower.txt --kind on_axis --smoothing much",
            "curve list 'No Such'",
            f"curve import {WIDE} tower.txt --kind on_axis --date 2025-02-30",
        ),
        *refused(
            f"curve import {WIDE} tower.txt",
            f"curve import {WIDE} tower.txt --kind above",
            f"curve show {TOWER} --smooth 99",
            code=2,
        ),
    ),
    {
        "stacked.txt": curve(hole(1500, 6, 0.4)),
        "tower.txt": curve(lambda hertz: 0.5 * math.sin(math.log(hertz))),
        "narrow.txt": curve(lambda _: 0.0, 20, 9000.0),
        "v_-10deg.txt": curve(hole(2500, 4, 0.5)),
        "v_10deg.txt": curve(hole(2600, 5, 0.5)),
        "polar.csv": polar(),
        "bad.txt": "frequency level\n100 80\nhundred 81\n50 79\n",
    },
)

WEIGHTS: Final = Scenario(
    (
        *asked("list", "weights list"),
        *asked("default", "weights show"),
        *done("weights copy default mine"),
        *done("weights set mine coverage=0.4 timbre=0.2"),
        *asked("mine", "weights show mine", wide=False),
        *done("weights list"),
        *asked("match", f"match {MILL} --weights mine --top 1", wide=False),
        *refused(
            "weights show nobody",
            "weights copy nobody yours",
            "weights copy default mine",
            "weights set mine speed=1",
            "weights set mine coverage=-1",
            "weights set mine coverage=much",
            "weights set default coverage=1",
            "weights set nobody coverage=1",
            "weights set mine coverage=nan",
        ),
        *refused("weights set mine coverage"),
        *refused("weights set mine", "weights copy default", code=2),
    ),
)

THREE: Final = "--left left.txt --centre centre.txt --right left.txt"
PAPERS: Final = Scenario(
    (
        Step(f"sheet {STACKED} {MILL} --out fit.html", keeps=("fit.html",)),
        Step(
            f"sheet {WIDE} {LOFT} --place 'plinth behind the screen' --units in --out loft.html", keeps=("loft.html",)
        ),
        *asked("verify", f"verify {MILL} {THREE} --speaker {STACKED} --trim-set -1"),
        *asked("seats", f"verify {LOFT} {THREE} --seat 'sofa left' {THREE} --seat bar --no-keep", wide=False),
        Step(f"report {MILL} --top 1 --budget-file budget.toml --out report.html", keeps=("report.html",)),
        Step(
            f"report {LOFT} --top 2 --mains 'Kettle Moss Bobbin Tower' --units in --budget 2000 --out second.html",
            keeps=("second.html",),
        ),
        *refused(
            f"sheet 'No Such' {MILL} --out a.html",
            f"sheet {STACKED} {MILL} --out a.txt",
            f"sheet {STACKED} --room X --out a.html",
            f"sheet {STACKED} {MILL} --place attic --out a.html",
            f"sheet {STACKED} {MILL} --out no/such/a.html",
            f"report {MILL} --out a.doc",
            f"sheet {STACKED} {MILL} --units feet --out a.html",
            f"verify {MILL} {THREE} --seat middle --seat corner",
            f"report {MILL} --budget-file bad.toml --out a.html",
            f"report {MILL} --budget-file budget.toml --rules nobody --out a.html",
            f"verify {MILL} --left bad.txt --centre centre.txt --right left.txt",
            f"verify --room X {THREE}",
            f"verify {MILL} {THREE} --speaker 'No Such'",
            f"verify {MILL} {THREE} --seat balcony",
            f"verify {MILL} {THREE} --speaker {STACKED} --place attic",
            f"verify {MILL} --left left.txt --centre nowhere.txt --right left.txt",
        ),
        *refused(
            f"verify {MILL} {THREE} --trim-set 99",
            f"verify {MILL} --left left.txt",
            f"report {MILL}",
            f"report {MILL} --top 99 --out a.html",
            code=2,
        ),
    ),
    {
        "left.txt": curve(lambda _: 0.0),
        "centre.txt": curve(lambda hertz: hole(1500, 15, 0.15)(hertz) - 2),
        "bad.txt": "frequency level\n100 80\n",
        "budget.toml": BUDGET,
        "bad.toml": BAD_BUDGET,
    },
)
