-- What wrk sends: the body of the file named in BODY, by POST. With UNIQUE set, each request gets a boat's name of its own, so
-- that no two documents are the same. Answers other than 2xx are counted by wrk itself.
local file = assert(io.open(os.getenv("BODY"), "rb"))
local body = file:read("*a")
file:close()

local unique = os.getenv("UNIQUE")
local head, tail
if unique then
  local from, to = body:find("@NAME@", 1, true)
  head, tail = body:sub(1, from - 1), body:sub(to + 1)
end

local threads = 0
function setup(thread)
  threads = threads + 1
  thread:set("id", threads)
end

wrk.method = "POST"
wrk.headers["Content-Type"] = "application/json"
if os.getenv("RIGBILL_KEY") then
  wrk.headers["Authorization"] = "Bearer " .. os.getenv("RIGBILL_KEY")
end
local count = 0

function request()
  if not unique then
    return wrk.format(nil, nil, nil, body)
  end
  count = count + 1
  return wrk.format(nil, nil, nil, head .. unique .. "-" .. id .. "-" .. count .. tail)
end
