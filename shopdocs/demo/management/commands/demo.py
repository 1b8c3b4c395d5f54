"""`manage.py demo`: the invented shop works through a month over the real API, then the API stays open."""

from __future__ import annotations

import logging
import time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from shopdocs.demo import papers, story, world
from shopdocs.demo.preparing import prepare_database
from shopdocs.demo.progress import progress
from shopdocs.demo.serving import PortRefused, served
from shopdocs.documents.embedded import start_embedded_worker, stop_embedded_worker


class Command(BaseCommand):
    help = "Plays the invented scenario through the real services, writes its papers and letters, and serves the API."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--stop", action="store_true", help="stop after the papers instead of serving")
        parser.add_argument("--port", type=int, default=8000, help="where the API is served (default 8000)")
        parser.add_argument("--folder", type=Path, help="where papers and letters go (default var/demo)")

    def handle(self, *args: Any, **options: Any) -> None:
        # Refusals that the story provokes are part of it; only real trouble is worth a line.
        logging.getLogger("django.request").setLevel(logging.ERROR)
        folder: Path = options["folder"] or settings.VAR_DIR / "demo"
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise CommandError(
                f"Nothing can be written to {folder} ({error}). Choose another with --folder."
            ) from error
        prepare_database()
        port = 0 if options["stop"] else options["port"]
        if port not in (0, 8000):
            settings.PUBLIC_URL = f"http://127.0.0.1:{port}"  # links in letters and codes on papers lead here
        try:
            with served(port) as address:
                self.play_and_show(address, folder)
                if not options["stop"]:
                    self.stay_open(address)
        except TimeoutError as error:
            raise CommandError(
                f"{error}. A worker that was killed keeps its row for a while: run this again."
            ) from error
        except PortRefused as error:
            raise CommandError(str(error)) from error
        finally:
            stop_embedded_worker()

    def play_and_show(self, address: str, folder: Path) -> None:
        start_embedded_worker()
        mark = story.played_mark()
        if mark is not None:
            print("The month is there already; nothing is played twice.")
        else:
            mark = story.free_mark()
            if mark:
                print(
                    f"'{world.SHOP['slug']}' or a name of its people is taken: by another shop, or by a demo that did not get to "
                    f"its end. That is left as it is; a new demo shop '{world.SHOP['slug']}{mark}' opens beside it."
                )
            with progress(len(story.MONTH) + 1, "A month at the shop") as tell:
                story.play(address, tell, mark)
        shown, letters = papers.save_papers(story.visitor(address, mark), folder)
        print(f"\nThe four papers of the main job ({folder / 'the-main-job'}):")
        for paper in shown:
            print(f"  {paper}")
        print(f"All papers: {folder / 'papers'}\nThe {letters} letters that were sent: {folder / 'letters'}")
        print(f"\nWho can sign in (POST /api/v1/sign-in/), each with the password {world.PASSWORD}")
        for member in world.PEOPLE:
            print(f"  {member.username + mark:12} {member.name:18} {member.does}")

    def stay_open(self, address: str) -> None:
        print(f"\nThe API: {address}/api/v1/   its description: {address}/api/docs/   (Ctrl-C ends it)", flush=True)
        try:
            while True:
                time.sleep(3600)
        except KeyboardInterrupt:
            print("\nClosed.")
