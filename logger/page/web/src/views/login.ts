// The token, where the bench is not on this machine alone.

import { post } from "../api/client";
import { sentence } from "../dialog";
import { h, say } from "../dom";
import { Refused } from "../api/client";
import { follow } from "../live/stream";
import { login as texts } from "../texts";
import type { View } from "../view";

export function loginView(args: string[]): View {
  const token = h("input", { type: "password", name: "token", autocomplete: "current-password", required: true });
  const trouble = h("p", { class: "trouble", role: "alert", hidden: true });
  const form = h("form", { class: "login" }, h("h1", {}, texts.title), h("p", {}, texts.body), h("label", {}, h("span", {}, texts.token), token), trouble,
    h("p", { class: "buttons" }, h("button", { type: "submit", class: "doing" }, texts.go)));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    try {
      await post("/api/v1/login", { token: token.value });
      follow();
      location.hash = args[0] ?? "";
    } catch (error) {
      trouble.hidden = false;
      say(trouble, error instanceof Refused && error.status === 401 ? texts.wrong : sentence(error));
      token.select();
    }
  });
  return { element: h("section", {}, form), title: texts.title };
}
