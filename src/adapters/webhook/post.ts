import http from 'node:http'
import https from 'node:https'
import type { LookupFunction } from 'node:net'
import type { Tls } from '../connectionsFile.js'

export interface Answer {
  readonly status: number
  readonly retryAfter: string | undefined
}

export interface PosterOptions {
  readonly url: string
  readonly tls: Tls | undefined
  readonly lookup: LookupFunction
  /** From the request until the answer has come. */
  readonly timeoutMs: number
}

export interface Poster {
  /** @throws where no answer came */
  readonly post: (headers: Readonly<Record<string, string>>, body: string) => Promise<Answer>
  /** Ends what is under way. */
  readonly close: () => void
}

/** Nobody reads what the receiver has to say, but the connection is free for the next event behind it only. */
const MAX_ANSWER_BYTES = 65_536

/** Posts to one address over a connection that is kept; follows no redirects, uses no proxies. */
export function createPoster({ url, tls, lookup, timeoutMs }: PosterOptions): Poster {
  const secure = new URL(url).protocol === 'https:'
  const agent = secure
    ? new https.Agent({ keepAlive: true, maxSockets: 1, ca: tls?.ca, cert: tls?.cert, key: tls?.key?.reveal() })
    : new http.Agent({ keepAlive: true, maxSockets: 1 })
  const { request: send } = secure ? https : http
  let isClosed = false

  const attempt: Poster['post'] = (headers, body) =>
    new Promise((resolve, reject) => {
      let answer: Answer | undefined
      const request = send(url, { method: 'POST', agent, lookup, headers }, response => {
        answer = { status: response.statusCode ?? 0, retryAfter: response.headers['retry-after'] }
        let bytes = 0
        response.on('data', (chunk: Buffer) => {
          bytes += chunk.length
          if (bytes > MAX_ANSWER_BYTES) response.destroy()
        })
        // An answer that breaks off behind its status is an answer.
        response.on('error', settle)
        response.once('close', settle)
      })
      const timer = setTimeout(() => request.destroy(new Error(`no answer within ${timeoutMs / 1_000} s`)), timeoutMs)
      request.on('error', settle)
      request.end(body)

      function settle(error?: Error): void {
        clearTimeout(timer)
        if (answer !== undefined) resolve(answer)
        else if (!isClosed && staleConnection(request, error)) attempt(headers, body).then(resolve, reject)
        else reject(error ?? new Error('no answer'))
      }
    })

  return {
    post: attempt,
    close: () => {
      isClosed = true
      agent.destroy()
    },
  }
}

/** The receiver closed the kept connection while we began to use it: Node's documentation of `reusedSocket`. */
function staleConnection(request: http.ClientRequest, error: NodeJS.ErrnoException | undefined): boolean {
  return request.reusedSocket && error?.code === 'ECONNRESET'
}
