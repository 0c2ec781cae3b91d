// SPDX-License-Identifier: GPL-3.0-or-later
// Holds recorded exchanges against the OpenAPI document that the daemon itself served, and the
// document against a linter. usage: node tests/openapi.mjs EXCHANGES
// EXCHANGES: a JSON line each, {method, path, request, status, type, body} (tests/service.c).
import { readFileSync, writeFileSync } from "node:fs";
import { createConfig, lint } from "@redocly/openapi-core";
import Ajv2020 from "ajv/dist/2020.js";
import addFormats from "ajv-formats";

const exchanges = readFileSync(process.argv[2], "utf8").trim().split("\n").map((l) => JSON.parse(l));
const served = exchanges.find((e) => e.path === "/api/v1/openapi.json" && e.method === "GET" && e.status === 200);
if (!served) throw new Error("no exchange holds the document");
const document = JSON.parse(served.body);
let passed = 0;
let failed = 0;
function check(good, what) {
  if (good) passed++;
  else {
    failed++;
    console.log(`openapi: ${what}`);
  }
}

// --- the document itself ------------------------------------------------------------------------
const file = `${process.argv[2]}.openapi.json`;
writeFileSync(file, served.body);
const problems = await lint({ ref: file, config: await createConfig({ extends: ["recommended-strict"] }) });
for (const p of problems) console.log(`openapi: ${p.ruleId}: ${p.message} ${p.location?.[0]?.pointer}`);
check(document.openapi === "3.1.0" && problems.length === 0, `${problems.length} findings of the linter`);

// --- exchanges ----------------------------------------------------------------------------------
const ajv = new Ajv2020({ strict: false, allErrors: false });
addFormats(ajv);
ajv.addSchema(document, "api");
const validators = new Map();
const escape = (part) => part.replaceAll("~", "~0").replaceAll("/", "~1");
function validator(pointer) {
  if (!validators.has(pointer)) validators.set(pointer, ajv.compile({ $ref: `api#${pointer}` }));
  return validators.get(pointer);
}
function follow(node, pointer) {
  return node?.$ref ? [node.$ref.slice(1).split("/").slice(1).reduce((o, k) => o[k], document), node.$ref.slice(1)] : [node, pointer];
}
const templates = Object.keys(document.paths).map((path) => ({
  path,
  // what is written out comes before what is a variable
  rank: (path.match(/\{/g) ?? []).length,
  expression: new RegExp(`^${path.replace(/[.]/g, "\\.").replace(/\{[^}]+\}/g, "[^/]+")}$`),
})).sort((a, b) => a.rank - b.rank);

const seen = new Set();
function hold(e) {
  const path = e.path.split("?")[0];
  const found = templates.find((t) => t.expression.test(path));
  if (!found) return check(e.status === 404 || e.status === 400, `${e.method} ${path}: ${e.status} from an address that is not described`);
  const method = e.method === "HEAD" ? "get" : e.method.toLowerCase();
  const operation = document.paths[found.path][method];
  if (!operation) return check([405, 421].includes(e.status), `${e.method} ${path}: ${e.status}, not described`);
  const here = `/paths/${escape(found.path)}/${method}`;
  const [response, pointer] = follow(operation.responses[e.status], `${here}/responses/${e.status}`);
  const name = `${e.method} ${path} ${e.status}`;
  if (!response) return check(false, `${name}: not a described status`);
  if (e.status < 300) seen.add(operation.operationId);
  if (!response.content) return check(e.body === "", `${name}: a body that is not described`);
  const type = e.type.split(";")[0];
  if (!response.content[type]) return check(e.status === 304, `${name}: ${e.type} is not described`);
  if (e.method === "HEAD" || e.status === 304) return check(true);
  const value = /json$/.test(type) ? JSON.parse(e.body) : e.body;
  const valid = validator(`${pointer}/content/${escape(type)}/schema`);
  check(valid(value), `${name}: ${ajv.errorsText(valid.errors)} in ${e.body.slice(0, 200)}`);
  if (e.status < 300 && e.request && operation.requestBody) {
    const wanted = validator(`${here}/requestBody/content/application~1json/schema`);
    check(wanted(JSON.parse(e.request)), `${name}: took what is not described: ${ajv.errorsText(wanted.errors)} ${e.request.slice(0, 200)}`);
  }
}
exchanges.forEach(hold);

// --- everything that is described was tried -----------------------------------------------------
const verbs = new Set([...seen].map((id) => id.split("_")[0]));
for (const item of Object.values(document.paths))
  for (const method of ["get", "put", "post", "patch", "delete"])
    if (item[method]) {
      const id = item[method].operationId;
      check(seen.has(id) || (id.includes("_") && verbs.has(id.split("_")[0])), `${id} was never tried with success`);
    }

console.log(`${exchanges.length} exchanges`);
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
