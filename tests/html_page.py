"""A page as its reader gets it: tags and text."""

import html.parser


class Page(html.parser.HTMLParser):
    """Every tag with its attributes, and the text."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.text, self._skip = [], [], 0
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self._skip += tag == "style"

    def handle_endtag(self, tag):
        self._skip -= tag == "style"

    def handle_data(self, data):
        if not self._skip:
            self.text.append(data)

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]
