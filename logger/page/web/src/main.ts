import type { Bench } from "./api/shapes";

// Until the views are there, the bench's name.
const answer = await fetch("/api/v1/bench");
const bench = (await answer.json()) as Bench;
document.body.append(bench.bench);
