"""A page opened in headless Chromium with the network off, driven over the DevTools protocol."""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
import tempfile
import time
import urllib.request
from pathlib import Path

import websocket

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--remote-allow-origins=*",
    "--remote-debugging-port=0", "--hide-scrollbars",
]  # fmt: skip
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")


def chromium() -> str | None:
    """The browser that is installed here, if any."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


class Browser:
    """One headless browser with one tab. Events are kept: console messages, exceptions, requests."""

    def __init__(self) -> None:
        self.folder = tempfile.mkdtemp(prefix="browser-")
        command = [chromium(), *FLAGS, f"--user-data-dir={self.folder}", "about:blank"]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self.socket = websocket.create_connection(self._address(), timeout=300)
        self.events: list[dict] = []
        self.sent = 0
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.call(f"{domain}.enable")
        conditions = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}
        self.call("Network.emulateNetworkConditions", **conditions)

    def _address(self) -> str:
        """The tab's address, once the browser has said on which port it listens."""
        told = Path(self.folder) / "DevToolsActivePort"
        for _ in range(1200):
            if told.exists() and told.read_text().count("\n"):
                port = told.read_text().split("\n")[0]
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/json/list") as answer:
                    tabs = [tab for tab in json.load(answer) if tab["type"] == "page"]
                if tabs:
                    return tabs[0]["webSocketDebuggerUrl"]
            time.sleep(0.05)
        raise TimeoutError("the browser did not start")

    def call(self, method: str, **parameters) -> dict:
        """Send a command and wait for its answer; events met on the way are kept."""
        self.sent += 1
        self.socket.send(json.dumps({"id": self.sent, "method": method, "params": parameters}))
        while True:
            message = json.loads(self.socket.recv())
            if message.get("id") == self.sent:
                if "error" in message:
                    raise RuntimeError(f"{method}: {message['error']}")
                return message["result"]
            self.events.append(message)

    def evaluate(self, expression: str):
        """Value of a JavaScript expression (a promise is awaited)."""
        answer = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(answer["exceptionDetails"]["exception"].get("description", "script failed"))
        return answer["result"].get("value")

    def size(self, width: int, height: int = 900) -> None:
        """Set the window's size [px]."""
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=False,
        )

    def open(self, page: Path, wait: str = "document.documentElement.dataset.ready") -> float | None:
        """Open a file and wait until it says it is ready; how long it took [ms]."""
        self.events.clear()
        self.page = page
        self.call("Page.navigate", url=page.as_uri())
        for _ in range(1200):
            if self.evaluate(f"document.readyState === 'complete' && Boolean({wait})"):
                ready = self.evaluate("document.documentElement.dataset.ready")
                return float(ready) if ready else None
            time.sleep(0.05)
        raise TimeoutError(f"{page.name} did not get ready: {self.complaints()}")

    def open_again(self) -> float | None:
        """Open the same file anew."""
        return self.open(self.page)

    def complaints(self) -> list[str]:
        """Console messages, exceptions and policy violations so far."""
        said = []
        for event in self.events:
            method, what = event["method"], event.get("params", {})
            if method == "Runtime.consoleAPICalled" and what["type"] in ("error", "warning", "assert"):
                said.append(f"console: {[a.get('value', a.get('description')) for a in what['args']]}")
            elif method == "Runtime.exceptionThrown":
                details = what["exceptionDetails"]
                said.append(f"exception: {details.get('exception', {}).get('description', details['text'])}")
            elif method == "Log.entryAdded" and what["entry"]["level"] in ("error", "warning"):
                said.append(f"log: {what['entry']['text']}")
        return said

    def requests(self) -> list[str]:
        """Addresses asked for, other than the page's own file and data carried inside it."""
        asked = [
            e["params"]["request"]["url"] for e in self.events if e["method"] == "Network.requestWillBeSent"
        ]
        return [url for url in asked if not url.startswith(("file:", "data:", "about:", "blob:"))]

    def screenshot(self, path: Path, whole: bool = False) -> Path:
        """What the window shows, or the whole page, as PNG."""
        clip = {}
        if whole:
            box = self.call("Page.getLayoutMetrics")["cssContentSize"]
            clip = {"clip": {**box, "scale": 1}, "captureBeyondViewport": True}
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot", **clip)["data"]))
        return path

    def pdf(self, path: Path) -> Path:
        """The page as it prints."""
        printed = self.call(
            "Page.printToPDF", preferCSSPageSize=True, printBackground=True, generateTaggedPDF=True
        )
        path.write_bytes(base64.b64decode(printed["data"]))
        return path

    def close(self) -> None:
        """End this browser."""
        self.socket.close()
        self.process.terminate()
        self.process.wait(timeout=20)
        shutil.rmtree(self.folder, ignore_errors=True)
