"""Speaking to a served bench without a browser: over a socket, as its pages do, or as they never would."""

import http.client
import json
import socket
from urllib.parse import urlsplit


class Speaker:
    """Somebody who has used the bench's address, and has its cookie."""

    def __init__(self, bench):
        self.at = urlsplit(bench.address).netloc
        answer = self.ask("GET", bench.address.partition(self.at)[2], cookie=False)
        assert answer.status == 303
        self.cookie = answer.headers["Set-Cookie"].partition(";")[0]

    def ask(self, method, path, body=None, *, cookie=True, **headers):
        connection = http.client.HTTPConnection(self.at, timeout=30)
        sent = {"Host": self.at, **({"Cookie": self.cookie} if cookie else {}), **headers}
        if body is not None:
            sent = {"Content-Type": "application/json", "Origin": f"http://{self.at}", **sent}
        try:
            connection.request(method, path, body=body, headers=sent)
            answer = connection.getresponse()
            answer.text = answer.read().decode("utf-8", errors="replace")
            return answer
        finally:
            connection.close()

    def get(self, path):
        return self.ask("GET", path)

    def post(self, path, data):
        return json.loads(self.ask("POST", path, json.dumps(data)).text)

    def raw(self, content, *, wait=5.0):
        """Send bytes as they are, and give back what comes until the other side shuts or is silent."""
        host, _, port = self.at.partition(":")
        found = b""
        with socket.create_connection((host, int(port)), timeout=wait) as line:
            line.sendall(content)
            try:
                while piece := line.recv(65536):
                    found += piece
            except (TimeoutError, ConnectionError):
                pass
        return found


def speaker_of(bench):
    """The bench's one speaker: its address works once. The first page may only say that the record is being read."""
    if not hasattr(bench, "speaker"):
        bench.speaker = Speaker(bench)
        bench.speaker.get("/")
    return bench.speaker
