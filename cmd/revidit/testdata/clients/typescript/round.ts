// What people do with the service, through types that a generator has made of its OpenAPI document: a member submits, two reviewers
// confirm, a curator publishes. It ends with the id of what everybody sees.
import { readFileSync } from "node:fs";
import createClient from "openapi-fetch";
import type { components, paths } from "./api.js";

const [base, password, file] = process.argv.slice(2) as [string, string, string];

function clientOf(token?: string) {
  return createClient<paths>({ baseUrl: base, ...(token ? { headers: { Authorization: `Bearer ${token}` } } : {}) });
}
type Client = ReturnType<typeof clientOf>;

// got is what was answered, or an end with the problem.
function got<T>(what: string, answer: { data?: T; error?: components["schemas"]["Problem"]; response: Response }): T {
  if (answer.data === undefined) {
    throw new Error(`${what}: ${answer.response.status} ${answer.error?.detail} ${JSON.stringify(answer.error?.errors ?? [])}`);
  }
  return answer.data;
}

async function login(who: string): Promise<Client> {
  const session = got(`log in as ${who}`, await clientOf().POST("/sessions", { body: { login: who, password } }));
  return clientOf(session.token);
}

async function logout(c: Client) {
  const { response } = await c.DELETE("/sessions");
  if (response.status !== 204) throw new Error(`log out: ${response.status}`);
  const after = await c.GET("/me");
  if (after.response.status !== 401 || !after.error?.detail) throw new Error(`after logging out: ${after.response.status}`);
}

async function upload(c: Client): Promise<string> {
  const form = new FormData();
  form.append("photo", new Blob([readFileSync(file)], { type: "image/jpeg" }), "beetle.jpg");
  const stored = got("upload", await c.POST("/photos", { body: { photo: "" }, bodySerializer: () => form }));
  return stored.photo.id;
}

async function submit(c: Client, photo: string): Promise<string> {
  const observations: components["schemas"]["ObservationForm"][] = [
    { character: "prosternal-process", state: "click-spine" },
    { character: "antenna-form", state: "serrate" },
    { character: "pronotum-hind-corners", state: "pointed" },
    { character: "ventrites", state: "5" },
    { character: "tarsi-counted", state: "5-5-5" },
    { character: "prosternum-front", state: "lobed" },
    { character: "labrum", state: "visible" },
  ];
  const made = got("submit", await c.POST("/submissions", {
    params: { header: { "Idempotency-Key": "round" } },
    body: { family: "Elateridae", label: { catalogue_number: "TS-1" }, withheld: {}, photos: [{ photo, view: "whole-below" }], observations },
  }));
  return made.submission.id;
}

async function review(who: string, id: string) {
  const c = await login(who);
  const queue = got("queue", await c.GET("/queue", { params: { query: { size: 10 } } }));
  if (!queue.items.some((line) => line.id === id)) throw new Error(`${who} does not find ${id} in the queue`);
  const answer = await c.GET("/submissions/{id}", { params: { path: { id } } });
  const seen = got("read", answer);
  const verdicts = (seen.submission.cites ?? []).map((observation) => ({ observation, kind: "confirm" as const }));
  got("review", await c.POST("/submissions/{id}/reviews", {
    params: { path: { id }, header: { "If-Match": answer.response.headers.get("ETag") ?? "" } },
    body: { verdicts, opinion: { kind: "agrees", basis: "specimen" } },
  }));
  await logout(c);
}

async function publish(specimen: string, photo: string) {
  const c = await login("curator");
  got("publish", await c.POST("/specimens/{id}/publication", {
    params: { path: { id: specimen } },
    body: { photos: [photo], license: "https://creativecommons.org/licenses/by/4.0/", holder: "The club", reason: "to be seen" },
  }));
  await logout(c);
}

const member = await login("member");
const photo = await upload(member);
const id = await submit(member, photo);
await review("reviewer", id);
await review("second", id);
const v = got("read", await member.GET("/submissions/{id}", { params: { path: { id } } }));
if (v.submission.status !== "confirmed" || v.assessment.confidence < 0.9) throw new Error(`it is ${v.submission.status} with ${v.assessment.confidence}`);
console.log(v.submission.status, v.assessment.family, v.assessment.confidence.toFixed(3));
const history = got("history", await member.GET("/submissions/{id}/events", { params: { path: { id } } }));
for (const e of history.entries ?? []) console.log(e.kind, e.role);
await publish(v.specimen.id, photo);
console.log("published", v.specimen.id);
await logout(member);
