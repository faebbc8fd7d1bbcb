/* A database of the browser's whose writes are on disk or not there at all, and which phones may end at any moment.
   One global, `journalDatabase(name, stores)`, with stores the key path of each (null where keys stand apart):

     run(mode, names, work)   one transaction over the stores named: what `work` gives, once that is on disk. work gets
                              each store by name, with get, getAll, getAllKeys, put, add and delete, which give
                              promises; it may be called twice, and must await nothing else
     journalDatabase.fault(kind, says)   an error with that `kind` and plain words; work that throws one is not repeated
     journalDatabase.refusal()    why this browser keeps nothing for long, in words, or null
     journalDatabase.holds(name, stores)   whether a database has anything in one of these stores; it makes none

   What fails rejects with a fault of kind "full", "refused" or "lost". */
"use strict";

globalThis.journalDatabase = (name, stores) => {
  const SAYS = {
    full: "This device gives the journal no more storage, so this was not saved. What was saved before is unharmed. " +
      "Free some storage, then save again.",
    refused: "This browser does not let the journal store anything (a private window, or storage is blocked), so " +
      "nothing can be recorded here.",
    lost: "The browser's storage stopped answering, so this was not saved. Try again, or reload the page.",
  }; // prettier-ignore
  const faultOf = (kind, cause) => Object.assign(journalDatabase.fault(kind, SAYS[kind]), { cause });
  let opening = null;

  const connect = () => {
    opening ??= new Promise((done, failed) => {
      const request = indexedDB.open(name, 1);
      request.onupgradeneeded = () => {
        for (const [store, keyPath] of Object.entries(stores)) request.result.createObjectStore(store, { keyPath });
      };
      request.onsuccess = () => {
        request.result.onversionchange = () => request.result.close();
        request.result.onclose = () => (opening = null);
        done(request.result);
      };
      request.onerror = () => failed(request.error);
    });
    return opening;
  };

  const disconnect = async () => {
    const closing = opening;
    opening = null;
    await closing?.then((database) => database.close()).catch(() => undefined); // it may never have opened
  };

  const answer = (request) =>
    new Promise((done, failed) => {
      request.onsuccess = () => done(request.result);
      request.onerror = () => failed(request.error);
    });

  const promised = (store) => {
    const methods = ["get", "getAll", "getAllKeys", "put", "add", "delete"];
    return Object.fromEntries(methods.map((method) => [method, (...given) => answer(store[method](...given))]));
  };

  const once = async (mode, names, work) => {
    const database = await connect().catch((error) => Promise.reject(faultOf("refused", error)));
    return new Promise((done, failed) => {
      const transaction = database.transaction(names, mode, { durability: "strict" });
      let result;
      let reason = null;
      transaction.oncomplete = () => done(result);
      transaction.onabort = () => failed(reason ?? transaction.error);
      const give = (error) => {
        reason = error;
        try {
          transaction.abort();
        } catch {
          failed(error); // it had ended already
        }
      };
      work(Object.fromEntries(names.map((store) => [store, promised(transaction.objectStore(store))])))
        .then((value) => (result = value))
        .catch(give);
    });
  };

  const run = async (mode, names, work) => {
    try {
      return await once(mode, names, work);
    } catch (error) {
      if (error.kind && error.kind !== "refused") throw error;
      await disconnect();
    }
    return once(mode, names, work).catch((error) => {
      throw error.kind ? error : faultOf(error.name === "QuotaExceededError" ? "full" : "lost", error);
    });
  };

  return { run };
};

journalDatabase.fault = (kind, says) => Object.assign(new Error(says), { kind });

journalDatabase.refusal = () => {
  const isTabOfIOs = "standalone" in navigator && !navigator.standalone;
  if (!isTabOfIOs) return null;
  return "This browser deletes the data of a tab, so nothing is recorded here. Press Share, then Add to Home Screen, and record in the installed journal.";
};

journalDatabase.holds = async (name, stores) => {
  const there = await indexedDB.databases?.();
  if (there && !there.some((one) => one.name === name)) return false;
  return new Promise((done, failed) => {
    const request = indexedDB.open(name);
    let isMade = false;
    request.onupgradeneeded = () => {
      isMade = true;
      request.transaction.abort(); // there was none, and so none is left
    };
    request.onerror = () => (isMade ? done(false) : failed(request.error));
    request.onsuccess = () => {
      const database = request.result;
      const transaction = database.transaction(stores, "readonly");
      const counts = stores.map((store) => transaction.objectStore(store).count());
      transaction.oncomplete = () => done(counts.some(({ result }) => result > 0));
      transaction.onabort = () => failed(transaction.error);
      database.close(); // once that is read
    };
  });
};
